package api

import (
	"context"
	"errors"
	"time"

	"wetdown/solver/plant"
)

// A Store keeps everything, in one database.
type Store interface {
	// View runs f on one consistent snapshot. f must not write.
	View(ctx context.Context, f func(Tx) error) error
	// Update runs f and keeps all that it wrote, or nothing if it returns an
	// error or ctx ends. Updates of one database follow one another: f sees all
	// that was kept before it. It may run f more than once and keeps what the last run
	// wrote, so f must have no other effects.
	Update(ctx context.Context, f func(Tx) error) error
	// Check has the database look at itself: its own integrity, and that
	// revisions and events are without gaps. An error says what is wrong.
	Check(ctx context.Context) error
	// Close waits for what is under way.
	Close() error
}

// A Tx is one transaction of a store. Its methods return ErrNone for what is not
// there. What they return belongs to the caller.
type Tx interface {
	// Head is the number of the newest revision, 0 when there is none.
	Head() (int64, error)
	// AddRevision appends a revision with what it changes. Its number must be
	// Head()+1, else ErrMoved. Texts Before are not stored: they are those of the
	// revisions before.
	AddRevision(r Revision, changes []plant.PieceChange) error
	// Revision returns one revision.
	Revision(number int64) (Revision, error)
	// Revisions lists revisions, the newest first, those with numbers below
	// `before` (0: all), at most `limit`.
	Revisions(before int64, limit int) ([]Revision, error)
	// Pieces returns the plant as of a revision, sorted by key.
	Pieces(number int64) ([]plant.Piece, error)
	// Changes returns what a revision changed, sorted by key.
	Changes(number int64) ([]plant.PieceChange, error)
	// Changed is the number of the newest revision that changed the piece; ErrNone
	// when no revision ever had it.
	Changed(key string) (int64, error)
	// Versions returns every version of a piece, the oldest first.
	Versions(key string) ([]PieceVersion, error)

	// Put writes a record. One with Version 0 is new, and ErrExists is returned
	// when its kind and ID are there; else Version must be that of the record as it
	// is stored, or ErrMoved is returned. The record as stored, with its new Version
	// and Seq, comes back.
	Put(r Record) (Record, error)
	// Get returns one record.
	Get(kind, id string) (Record, error)
	// List returns records in order of Seq.
	List(q Query) ([]Record, error)
	// Delete takes a record away; none is no error.
	Delete(kind, id string) error

	// AddEvent appends to the trail; Seq is set by the store.
	AddEvent(e Event) error
	// Events lists the trail, the newest first, those with Seq below `before`
	// (0: all), at most `limit`.
	Events(before int64, limit int) ([]Event, error)
}

// What a store finds.
var (
	ErrNone   = errors.New("there is no such record")
	ErrExists = errors.New("there is such a record already")
	ErrMoved  = errors.New("somebody else was faster")
)

// A PieceVersion is a piece of the plant as one revision left it.
type PieceVersion struct {
	Revision int64
	Text     string // "" where the revision took it away
}

// A Record is anything kept beside the plant: a proposal, a job, a call, an
// account. Its body is JSON of a type that its kind decides; the rest is what records
// are found by.
type Record struct {
	Kind    string    // of the Kind constants
	ID      string    // unique within the kind
	State   string    // as the kind knows it
	Ref     string    // another name to find it by, such as that of a truck; "" for none
	Due     time.Time // when something is to be done about it; zero: never
	Body    []byte    // JSON
	Version int64     // how often it was written
	Seq     int64     // order in which records of all kinds were first written
}

// A Query chooses records of one kind; an empty field chooses all.
type Query struct {
	Kind      string
	State     string
	Ref       string
	DueBefore time.Time // exclusive; records that are never due are left out
	After     int64     // Seq after which to go on
	Before    int64     // Seq below which to go on, for Newest
	Newest    bool      // the newest first
	Limit     int       // 0: all
}

// An Event is one attempt to do something, whether it was allowed or not. The trail is
// never changed.
type Event struct {
	Seq     int64
	At      time.Time
	Who     string // account or token, "" when nobody is known
	Act     string // of the Act constants, or of a page
	Subject string // what it was about, such as visits/V-7
	Outcome string // done, refused, failed
	Detail  string // in a sentence, without passwords or tokens
}
