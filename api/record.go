package api

import (
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"
)

// Kinds of record.
const (
	KindCall     = "call"
	KindHistory  = "history"
	KindJob      = "job"
	KindProposal = "proposal"
	KindQuote    = "quote"
	KindSettings = "settings"
)

// newID is a name that nobody can guess, 26 letters and digits.
func newID() string { return strings.ToLower(rand.Text()) }

// An entry is a value with the record it is kept in.
type entry[T any] struct {
	rec Record
	val T
}

// fetch reads one record.
func fetch[T any](tx Tx, kind, id string) (e entry[T], err error) {
	if !utf8.ValidString(id) || strings.Contains(id, "\x00") { // which not every database can be asked for
		return e, noSuch(kind, id, nil)
	}
	if e.rec, err = tx.Get(kind, id); err != nil {
		if errors.Is(err, ErrNone) {
			err = noSuch(kind, id, nil)
		}
		return e, err
	}
	return e, e.open()
}

func (e *entry[T]) open() error {
	if err := json.Unmarshal(e.rec.Body, &e.val); err != nil {
		return fmt.Errorf("%s %s: %w", e.rec.Kind, e.rec.ID, err)
	}
	return nil
}

// keep writes the value into its record.
func (e *entry[T]) keep(tx Tx) (err error) {
	if e.rec.Body, err = json.Marshal(e.val); err != nil {
		return err
	}
	e.rec, err = tx.Put(e.rec)
	return err
}

// query lists records.
func query[T any](tx Tx, q Query) ([]entry[T], error) {
	list, err := tx.List(q)
	if err != nil {
		return nil, err
	}
	out := make([]entry[T], len(list))
	for i := range list {
		out[i].rec = list[i]
		if err := out[i].open(); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// A Page is a part of a list.
type Page struct {
	After  int64 // Seq of the record after which to go on in the order of the list; 0: from its start
	Newest bool  // the newest first, else the oldest
	Limit  int   // at most so many; 0: all
}

// of is the query for this part of what q asks for.
func (p Page) of(q Query) Query {
	q.Newest, q.Limit = p.Newest, p.Limit
	if p.Newest {
		q.Before = p.After
	} else {
		q.After = p.After
	}
	return q
}

// stamp is the time as it is stored.
func stamp(t time.Time) time.Time { return t.UTC().Truncate(time.Millisecond) }
