package store

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"

	"github.com/pressly/goose/v3"
	"modernc.org/sqlite"
	codes "modernc.org/sqlite/lib"
)

//go:embed sqlite/*.sql
var sqliteSchema embed.FS

// ours is what the first migration writes into the head of a file.
const ours = 2004116590

// A sqliteFile is a database in one file.
type sqliteFile struct {
	name string
}

func (f *sqliteFile) place() string { return f.name }

func (f *sqliteFile) connect(ctx context.Context) (write, read *sql.DB, err error) {
	if err := f.prepare(); err != nil {
		return nil, nil, err
	}
	if err := f.known(ctx); err != nil {
		return nil, nil, err
	}
	// FULL: what is committed has reached the disk. Without immediate, a transaction
	// that reads before it writes fails when another one was faster.
	write, err = f.open("_pragma=busy_timeout(5000)&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_pragma=fullfsync(1)&_pragma=foreign_keys(1)&_txlock=immediate", 1)
	if err != nil {
		return nil, nil, err
	}
	if err := write.PingContext(ctx); err != nil {
		return nil, nil, errors.Join(err, write.Close())
	}
	read, err = f.open("mode=ro&_pragma=busy_timeout(5000)&_pragma=query_only(1)", readers)
	if err != nil {
		return nil, nil, errors.Join(err, write.Close())
	}
	return write, read, nil
}

// claim holds a transaction open in a small database beside the file. The system lets go
// of its lock when the program ends, also when it is killed, so that what a dead one left
// behind keeps nobody out. Who looks for the holder can read its number meanwhile.
func (f *sqliteFile) claim(ctx context.Context) (leave func() error, err error) {
	if err := f.prepare(); err != nil {
		return nil, err
	}
	name, err := filepath.EvalSymlinks(f.name) // one file has one claim, by whatever name
	if err != nil {
		return nil, err
	}
	beside := &sqliteFile{name: name + "-serving"}
	if err := beside.prepare(); err != nil {
		return nil, err
	}
	db, err := beside.open("_txlock=immediate", 1)
	if err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, db.Close())
		}
	}()
	held := func(err error) error {
		var e *sqlite.Error
		if !errors.As(err, &e) || e.Code()&0xff != codes.SQLITE_BUSY {
			return err
		}
		who, pid := "another program", 0
		if db.QueryRowContext(ctx, "PRAGMA user_version").Scan(&pid) == nil && pid != 0 && pid != os.Getpid() {
			who = fmt.Sprintf("another program (process %d)", pid)
		}
		return fmt.Errorf("%s is served by %s already: ask that one, or end it first; two services take one database where that is PostgreSQL", f.name, who)
	}
	t, err := db.BeginTx(ctx, nil)
	if err == nil {
		_, err = t.ExecContext(ctx, fmt.Sprintf("PRAGMA user_version = %d", os.Getpid()))
		if err = errors.Join(err, t.Commit()); err == nil {
			t, err = db.BeginTx(context.WithoutCancel(ctx), nil) // ended by leave alone
		}
	}
	if err != nil {
		return nil, held(err)
	}
	return func() error { return errors.Join(t.Rollback(), db.Close()) }, nil
}

// open opens the file with options of the driver.
func (f *sqliteFile) open(options string, connections int) (*sql.DB, error) {
	name, err := filepath.Abs(f.name)
	if err != nil {
		return nil, err
	}
	db, err := sql.Open("sqlite", (&url.URL{Scheme: "file", Path: filepath.ToSlash(name), RawQuery: options}).String())
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(connections)
	db.SetMaxIdleConns(connections)
	return db, nil
}

// prepare makes the file when there is none, for this account alone: it will hold
// what people log in with.
func (f *sqliteFile) prepare() error {
	if f.name == "" {
		return errors.New("no database is named: give the name of a file, or a URL that begins with postgres://")
	}
	dir := filepath.Dir(f.name)
	if i, err := os.Stat(f.name); err == nil {
		if i.IsDir() {
			return fmt.Errorf("%s is a folder: name a file in it", f.name)
		}
		return nil
	}
	if i, err := os.Stat(dir); err != nil || !i.IsDir() {
		return fmt.Errorf("%s: there is no folder %s: make it first, or name another file", f.name, dir)
	}
	file, err := os.OpenFile(f.name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	switch {
	case errors.Is(err, fs.ErrExist): // somebody else has just made it
		return nil
	case err != nil:
		return fmt.Errorf("%s cannot be made: %w: give this account the right to write in the folder %s, or name another file", f.name, bare(err), dir)
	}
	return errors.Join(file.Close(), syncFolder(dir))
}

// known refuses a file of another program before anything in it is touched. One that a
// program was killed over may need to be rolled back before it can be read at all.
func (f *sqliteFile) known(ctx context.Context) error {
	err := f.isOurs(ctx, "mode=ro")
	var e *sqlite.Error
	if errors.As(err, &e) && (e.Code() == codes.SQLITE_READONLY_ROLLBACK || e.Code() == codes.SQLITE_READONLY_RECOVERY) {
		err = f.isOurs(ctx, "mode=rw&_pragma=query_only(1)")
	}
	return err
}

func (f *sqliteFile) isOurs(ctx context.Context, mode string) (err error) {
	db, err := f.open(mode+"&_pragma=busy_timeout(5000)", 1)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	var id, tables int64
	err = db.QueryRowContext(ctx, "SELECT (SELECT application_id FROM pragma_application_id), (SELECT count(*) FROM sqlite_master WHERE name NOT LIKE '%goose%' AND type = 'table' AND name <> 'sqlite_sequence')").Scan(&id, &tables)
	if err == nil && tables > 0 && id != ours {
		err = fmt.Errorf("%s is the database of another program: nothing in it was changed. Name another file", f.name)
	}
	return err
}

func (f *sqliteFile) migrations() (goose.Dialect, fs.FS, []goose.ProviderOption, error) {
	sub, err := fs.Sub(sqliteSchema, "sqlite")
	return goose.DialectSQLite3, sub, nil, err
}

// lock needs no more than what BEGIN IMMEDIATE has taken.
func (f *sqliteFile) lock() string { return "SELECT 1" }

func (f *sqliteFile) again(error) bool { return false }

func (f *sqliteFile) lost(error) bool { return false }

func (f *sqliteFile) fault(err error) *fault {
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return nil
	}
	switch e.Code() & 0xff {
	case codes.SQLITE_NOTADB:
		return lasting("%s is no database, or a damaged one: name another file, or restore a backup to another file", f.name)
	case codes.SQLITE_CORRUPT:
		return lasting("%s is damaged: stop the service, keep the file, and restore the newest backup to another file with wetdown restore", f.name)
	case codes.SQLITE_FULL:
		return lasting("there is no room left on the disk of %s: make room. Everything kept before is safe", f.name)
	case codes.SQLITE_READONLY, codes.SQLITE_PERM:
		return lasting("%s may not be written: give this account the right to write the file and its folder %s", f.name, filepath.Dir(f.name))
	case codes.SQLITE_CANTOPEN:
		return lasting("%s cannot be opened: give this account the right to read and write the file and its folder %s", f.name, filepath.Dir(f.name))
	case codes.SQLITE_IOERR:
		return lasting("the disk of %s does not do as it is told: look at the disk, and at its free room", f.name)
	case codes.SQLITE_BUSY, codes.SQLITE_LOCKED:
		return passing("another program has been writing to %s for more than 5 s: end it, or try again later", f.name)
	case codes.SQLITE_INTERRUPT:
		return passing("the database %s was interrupted: try again", f.name)
	}
	return nil
}

func (f *sqliteFile) look(ctx context.Context, t *sql.Tx) error {
	for _, question := range []string{"PRAGMA integrity_check(1)", "SELECT 'a row of ' || \"table\" || ' belongs to no row of ' || parent FROM pragma_foreign_key_check LIMIT 1"} {
		var said string
		switch err := t.QueryRowContext(ctx, question).Scan(&said); {
		case errors.Is(err, sql.ErrNoRows):
		case err != nil:
			return err
		case said != "ok":
			return fmt.Errorf("%s is damaged: %s: stop the service, keep the file, and restore the newest backup to another file with wetdown restore", f.name, said)
		}
	}
	return nil
}

func (f *sqliteFile) unguard(ctx context.Context, t *sql.Tx) (guard func() error, err error) {
	type trigger struct{ name, text string }
	triggers, err := rows(ctx, t, func(r *sql.Rows, g *trigger) error { return r.Scan(&g.name, &g.text) },
		"SELECT name, sql FROM sqlite_master WHERE type = 'trigger' ORDER BY name")
	if err != nil {
		return nil, err
	}
	for _, g := range triggers {
		if _, err := t.ExecContext(ctx, "DROP TRIGGER "+g.name); err != nil {
			return nil, err
		}
	}
	return func() error {
		for _, g := range triggers {
			if _, err := t.ExecContext(ctx, g.text); err != nil {
				return err
			}
		}
		return nil
	}, nil
}
