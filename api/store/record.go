package store

import (
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"

	"wetdown/api"
)

const recordColumns = "kind, id, state, ref, due, body, version, seq"

func scanRecord(r *sql.Rows, v *api.Record) error {
	var due sql.NullInt64
	err := r.Scan(&v.Kind, &v.ID, &v.State, &v.Ref, &due, &v.Body, &v.Version, &v.Seq)
	if due.Valid {
		v.Due = moment(due.Int64)
	}
	return err
}

// Put writes a record, new with Version 0, else over the version that it names. Due
// is kept in whole milliseconds, rounded down. A record that has been deleted has no
// version: ErrMoved.
func (t *tx) Put(v api.Record) (api.Record, error) {
	if err := t.may(fmt.Sprintf("record %s %s", v.Kind, v.ID), v.Kind, v.ID, v.State, v.Ref, string(v.Body)); err != nil {
		return api.Record{}, err
	}
	var due sql.NullInt64
	if !v.Due.IsZero() {
		due = sql.NullInt64{Int64: v.Due.UnixMilli(), Valid: true}
	}
	if v.Version != 0 {
		stored, err := one(t, scanRecord, "UPDATE record SET state = $1, ref = $2, due = $3, body = $4, version = version + 1 WHERE kind = $5 AND id = $6 AND version = $7 RETURNING "+recordColumns,
			v.State, v.Ref, due, string(v.Body), v.Kind, v.ID, v.Version)
		if errors.Is(err, api.ErrNone) {
			err = api.ErrMoved
		}
		return stored, err
	}
	stored, err := one(t, scanRecord, "INSERT INTO record ("+recordColumns+") VALUES ($1, $2, $3, $4, $5, $6, 1, (SELECT records + 1 FROM tally)) ON CONFLICT (kind, id) DO NOTHING RETURNING "+recordColumns,
		v.Kind, v.ID, v.State, v.Ref, due, string(v.Body))
	switch {
	case errors.Is(err, api.ErrNone):
		return api.Record{}, api.ErrExists
	case err != nil:
		return api.Record{}, err
	}
	return stored, t.exec("UPDATE tally SET records = $1", stored.Seq)
}

// Get returns one record.
func (t *tx) Get(kind, id string) (api.Record, error) {
	return one(t, scanRecord, "SELECT "+recordColumns+" FROM record WHERE kind = $1 AND id = $2", kind, id)
}

// List returns records of one kind in order of Seq.
func (t *tx) List(q api.Query) ([]api.Record, error) {
	where, args := []string{"kind = $1"}, []any{q.Kind}
	and := func(condition string, v any) {
		args = append(args, v)
		where = append(where, fmt.Sprintf("%s $%d", condition, len(args)))
	}
	if q.State != "" {
		and("state =", q.State)
	}
	if q.Ref != "" {
		and("ref =", q.Ref)
	}
	if !q.DueBefore.IsZero() {
		// Rounded up: a due millisecond is before every moment within it.
		and("due <", q.DueBefore.Add(time.Millisecond-1).UnixMilli())
	}
	if q.After > 0 {
		and("seq >", q.After)
	}
	if q.Before > 0 {
		and("seq <", q.Before)
	}
	order := ""
	if q.Newest {
		order = " DESC"
	}
	args = append(args, most(q.Limit))
	return rows(t.ctx, t, scanRecord, fmt.Sprintf("SELECT %s FROM record WHERE %s ORDER BY seq%s LIMIT $%d",
		recordColumns, strings.Join(where, " AND "), order, len(args)), args...)
}

// Delete takes a record away. Its Seq is not given again.
func (t *tx) Delete(kind, id string) error {
	if err := t.may(fmt.Sprintf("record %s %s", kind, id)); err != nil {
		return err
	}
	return t.exec("DELETE FROM record WHERE kind = $1 AND id = $2", kind, id)
}
