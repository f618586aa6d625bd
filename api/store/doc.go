// Package store keeps everything that package api hands it, in one SQLite file or
// in a PostgreSQL database. The queries are the same text for both; what differs
// (tables, locks, faults) stands in sqlite.go and postgres.go and in the folders
// of migrations beside them.
//
// What Update has returned from is kept: SQLite writes through to the disk before it
// says so, PostgreSQL does unless its administrator says otherwise. Updates follow one
// another, also those of several programs: SQLite by taking the right to write
// when a transaction begins, PostgreSQL by the lock on the one row of table tally.
// A View has one snapshot from its beginning, and waits for nobody.
//
// Revisions, pieces and events are only ever added to, and triggers in the
// database refuse anything else, whoever asks. Numbers of revisions and events have
// no gaps. Times are integers, milliseconds since 1970 UTC.
//
// A backup is one file for both databases: gzip, a line of JSON for each row, and
// at the end the number of rows and a SHA-256 of all that came before. It is taken
// from one snapshot while others write. The same content makes the same bytes.
// Restoring reads it through first, and is one transaction. So it also carries a
// database from SQLite to PostgreSQL and back.
//
// Deliberately absent: what records and pieces mean, and when to take a backup. There
// is no copy in a format of one database's own: it would be a second way to the
// same end.
package store
