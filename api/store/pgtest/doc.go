// Package pgtest gives tests PostgreSQL databases, each of them empty and of its own.
// Nothing but tests uses it.
//
// Deliberately absent: tables, and what is put to the test.
package pgtest
