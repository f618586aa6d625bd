package api

import (
	"time"
)

// A Revision is the plant as somebody left it. Revisions are numbered from 1 without
// gaps and never change.
type Revision struct {
	Number int64
	Base   int64     // the revision from which it was made: Number-1, but for an undo, which returns to an older one
	At     time.Time // UTC, whole milliseconds
	Who    string    // account or token
	Act    string    // of the Act constants
	Why    string    // given by a person, "" if nothing was
	What   string    // what changed, in a sentence
	Undoes int64     // the revision that it takes back, 0 for none
}
