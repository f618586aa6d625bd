package store

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"strings"
	"sync"
	"time"

	"github.com/pressly/goose/v3"

	"wetdown/api"
)

// A Store is an api.Store in a database. All its methods may be called at once.
type Store struct {
	base  database
	write *sql.DB      // one connection
	read  *sql.DB      // cannot write
	leave func() error // gives back the claim, if there is one

	mu     sync.Mutex
	closed bool
	under  sync.WaitGroup // what is under way
}

var _ api.Store = (*Store)(nil)

// A database is what differs between SQLite and PostgreSQL.
type database interface {
	// connect opens the database for writing, through one connection, and for
	// reading.
	connect(ctx context.Context) (write, read *sql.DB, err error)
	// claim keeps other programs from claiming the database until leave is called or this
	// program ends, however it does, where no two may serve it.
	claim(ctx context.Context) (leave func() error, err error)
	// migrations are the changes of the schema, and how they are locked.
	migrations() (goose.Dialect, fs.FS, []goose.ProviderOption, error)
	// lock is the statement with which every update begins.
	lock() string
	// again reports whether a transaction that failed so may succeed when it is run
	// once more, and certainly left nothing behind.
	again(err error) bool
	// lost reports whether the connection is gone.
	lost(err error) bool
	// fault says what a person can do about an error of the database; nil when it is none
	// that it knows.
	fault(err error) *fault
	// look has the database check itself.
	look(ctx context.Context, tx *sql.Tx) error
	// unguard allows deleting from the tables that are only added to, until the
	// transaction ends or guard is called.
	unguard(ctx context.Context, tx *sql.Tx) (guard func() error, err error)
	// place names the database for people, without passwords.
	place() string
}

// Open opens a database and brings its tables up to date: that of a URL that begins
// with postgres:// or postgresql://, else the SQLite file of that name, which is made
// when it is not there. The error says what to do.
func Open(ctx context.Context, url string) (*Store, error) { return openAs(ctx, url, false) }

// Serve is Open for a program that answers for what is in the database. A SQLite file
// is served by one program at a time: another one is refused until this one has called
// Close or is dead. Open does not mind.
func Serve(ctx context.Context, url string) (*Store, error) { return openAs(ctx, url, true) }

func openAs(ctx context.Context, url string, alone bool) (*Store, error) {
	var base database = &sqliteFile{name: url}
	if strings.HasPrefix(url, "postgres://") || strings.HasPrefix(url, "postgresql://") {
		base = &postgresServer{url: url}
	}
	s := &Store{base: base, leave: func() error { return nil }}
	var err error
	if alone {
		if s.leave, err = base.claim(ctx); err != nil {
			return nil, s.explain(ctx, err)
		}
	}
	if s.write, s.read, err = base.connect(ctx); err != nil {
		return nil, errors.Join(s.explain(ctx, err), s.leave())
	}
	if err := s.migrate(ctx); err != nil {
		return nil, errors.Join(s.explain(ctx, err), s.Close())
	}
	return s, nil
}

// Close waits for views and updates under way, and closes the database. New ones are
// refused. Closed a second time it does nothing.
func (s *Store) Close() error {
	s.mu.Lock()
	again := s.closed
	s.closed = true
	s.mu.Unlock()
	s.under.Wait()
	if again {
		return nil
	}
	// The one that can write goes last: it leaves a SQLite file without a log beside it.
	return errors.Join(s.read.Close(), s.write.Close(), s.leave())
}

// enter begins something that Close waits for; leave ends it.
func (s *Store) enter() (leave func(), err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return nil, errors.New("the database is closed: the program is about to end")
	}
	s.under.Add(1)
	return s.under.Done, nil
}

// View runs f on one snapshot, that of the moment of the call. What f writes is
// refused.
func (s *Store) View(ctx context.Context, f func(api.Tx) error) error {
	return s.view(ctx, func(t *tx) error { return f(t) })
}

func (s *Store) view(ctx context.Context, f func(*tx) error) error {
	leave, err := s.enter()
	if err != nil {
		return err
	}
	defer leave()
	// The first statement is what takes the snapshot.
	snapshot := &sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true}
	t, err := s.begin(ctx, s.read, snapshot, "SELECT records FROM tally")
	if err != nil {
		return s.explain(ctx, err)
	}
	defer t.Rollback()
	return s.explain(ctx, f(&tx{ctx: ctx, Tx: t}))
}

// Update runs f, up to some times when the database says that another try may
// help, and keeps all that its last run wrote or nothing. A call from within f waits for
// itself.
func (s *Store) Update(ctx context.Context, f func(api.Tx) error) error {
	return s.update(ctx, func(t *tx) error { return f(t) })
}

// readers is how many connections there are to read through.
const readers = 8

// tries bounds how often an update is begun.
const tries = 6

func (s *Store) update(ctx context.Context, f func(*tx) error) error {
	leave, err := s.enter()
	if err != nil {
		return err
	}
	defer leave()
	for try, wait := 1, 10*time.Millisecond; ; try, wait = try+1, 2*wait {
		err := s.once(ctx, f)
		if err == nil || !s.base.again(err) || try == tries {
			return s.explain(ctx, err)
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(wait):
		}
	}
}

// once is one try of an update.
func (s *Store) once(ctx context.Context, f func(*tx) error) error {
	t, err := s.begin(ctx, s.write, nil, s.base.lock())
	if err != nil {
		return err
	}
	defer t.Rollback() // also when f panics
	if err := f(&tx{ctx: ctx, Tx: t, writes: true}); err != nil {
		return err
	}
	return t.Commit()
}

// begin begins a transaction with a statement, on another connection if this one
// turns out to be gone, as all are when a server was started anew.
func (s *Store) begin(ctx context.Context, db *sql.DB, options *sql.TxOptions, first string) (t *sql.Tx, err error) {
	for range readers + 1 {
		if t, err = db.BeginTx(ctx, options); err == nil {
			if _, err = t.ExecContext(ctx, first); err == nil {
				return t, nil
			}
			t.Rollback()
		}
		if !s.base.lost(err) {
			break
		}
	}
	return nil, err
}
