package rest

import (
	"fmt"
	"net/http"
	"strconv"

	"wetdown/api"
	"wetdown/solver/plant"
)

// A wireRevision is the plant as somebody left it.
type wireRevision struct {
	Number int64   `json:"number"`
	Base   int64   `json:"base"`
	At     *string `json:"at"`
	Who    string  `json:"who"`
	Act    string  `json:"act"`
	Why    string  `json:"why"`
	What   string  `json:"what"`
	Undoes *int64  `json:"undoes"`
}

func toRevision(r api.Revision) wireRevision {
	w := wireRevision{Number: r.Number, Base: r.Base, At: loggedTime(r.At), Who: r.Who, Act: r.Act, Why: r.Why, What: r.What}
	if r.Undoes != 0 {
		w.Undoes = &r.Undoes
	}
	return w
}

// changed answers with the revision that a change has made. Its number is the new tag of
// whatever was changed.
func (x *exchange) changed(s *api.State) error {
	x.detail = s.Revision.What
	x.Response().Header().Set("ETag", tag(s.Revision.Number))
	return x.JSON(http.StatusOK, toRevision(s.Revision))
}

// newest is where a list that begins with the newest goes on, and how much of it is
// wanted.
func (x *exchange) newest() (before int64, limit int, err error) {
	if limit, err = x.limit(); err == nil {
		before, err = x.number("before")
	}
	return before, limit, err
}

func listRevisions(x *exchange) error {
	before, limit, err := x.newest()
	if err != nil {
		return err
	}
	list, err := x.app.Revisions(x.Request().Context(), x.who, before, limit+1)
	if err != nil {
		return err
	}
	return paged(x, "before", list, limit, func(r api.Revision) string { return strconv.FormatInt(r.Number, 10) }, toRevision)
}

// A wireRevisionChanges is a revision with what it changed.
type wireRevisionChanges struct {
	wireRevision
	Changes []wirePieceChange `json:"changes"`
}

// A wirePieceChange is a part of the plant, by its key, before and after.
type wirePieceChange struct {
	Key    string  `json:"key"`
	Before *string `json:"before"` // null: it was not there
	After  *string `json:"after"`  // null: it was taken away
}

func toPieceChange(c plant.PieceChange) wirePieceChange {
	w := wirePieceChange{Key: c.Key}
	if c.Before != "" {
		w.Before = &c.Before
	}
	if c.After != "" {
		w.After = &c.After
	}
	return w
}

// revisionNumber is the number of a revision in the address.
func (x *exchange) revisionNumber() (int64, error) {
	n, err := strconv.ParseInt(x.Param("number"), 10, 64)
	if err != nil || n < 1 {
		return 0, &api.Problem{Kind: api.NotFound, Title: "There is no such revision", Detail: fmt.Sprintf("%.40q is no number of a revision.", x.Param("number")), Next: "Look it up in the list of revisions."}
	}
	return n, nil
}

func getRevision(x *exchange) error {
	n, err := x.revisionNumber()
	if err != nil {
		return err
	}
	r, changes, err := x.app.Changes(x.Request().Context(), x.who, n)
	if err != nil {
		return err
	}
	if x.current(r.Number) {
		return x.unchanged()
	}
	w := wireRevisionChanges{toRevision(r), make([]wirePieceChange, len(changes))}
	for i, c := range changes {
		w.Changes[i] = toPieceChange(c)
	}
	return x.JSON(http.StatusOK, w)
}

func undoRevision(x *exchange) error {
	n, err := x.revisionNumber()
	if err != nil {
		return err
	}
	i, err := x.intent(api.Whole)
	if err != nil {
		return err
	}
	s, err := x.app.Undo(x.Request().Context(), x.who, i, n)
	if err != nil {
		return err
	}
	return x.changed(s)
}
