package store

import (
	"database/sql"
	"fmt"
	"slices"
	"strings"

	"wetdown/api"
	"wetdown/solver/plant"
)

// Head is the number of the newest revision, 0 when there is none.
func (t *tx) Head() (int64, error) {
	return t.number("SELECT coalesce(max(number), 0) FROM revision")
}

const revisionColumns = "number, base, at, who, act, why, what, undoes"

func scanRevision(r *sql.Rows, v *api.Revision) error {
	var at int64
	err := r.Scan(&v.Number, &v.Base, &at, &v.Who, &v.Act, &v.Why, &v.What, &v.Undoes)
	v.At = moment(at)
	return err
}

// AddRevision appends a revision, if its number is the next. A change of one
// piece twice is an error.
func (t *tx) AddRevision(v api.Revision, changes []plant.PieceChange) error {
	what := fmt.Sprintf("revision %d", v.Number)
	if err := t.may(what, v.Who, v.Act, v.Why, v.What); err != nil {
		return err
	}
	head, err := t.Head()
	if err != nil {
		return err
	}
	if v.Number != head+1 {
		return api.ErrMoved
	}
	changes = slices.SortedFunc(slices.Values(changes), func(a, b plant.PieceChange) int { return strings.Compare(a.Key, b.Key) })
	list := make([][]any, len(changes))
	for i, c := range changes {
		if err := t.may("piece "+c.Key, c.Key, c.After); err != nil {
			return err
		}
		if i > 0 && c.Key == changes[i-1].Key {
			return fmt.Errorf("%s changes the piece %s twice", what, c.Key)
		}
		list[i] = []any{c.Key, v.Number, c.After}
	}
	err = t.exec("INSERT INTO revision ("+revisionColumns+") VALUES ($1, $2, $3, $4, $5, $6, $7, $8)",
		v.Number, v.Base, v.At.UnixMilli(), v.Who, v.Act, v.Why, v.What, v.Undoes)
	if err != nil {
		return err
	}
	return t.insert("piece", []string{"key", "revision", "text"}, list)
}

// Revision returns one revision.
func (t *tx) Revision(number int64) (api.Revision, error) {
	return one(t, scanRevision, "SELECT "+revisionColumns+" FROM revision WHERE number = $1", number)
}

// Revisions lists revisions with numbers below `before`, the newest first. 0 is no
// bound, and no limit.
func (t *tx) Revisions(before int64, limit int) ([]api.Revision, error) {
	return rows(t.ctx, t, scanRevision, "SELECT "+revisionColumns+" FROM revision WHERE number < $1 ORDER BY number DESC LIMIT $2",
		below(before), most(limit))
}

// piecesAt steps from one key to the next in the index and takes the newest version of
// each, so that it looks at two rows for each key, however many versions
// there are.
const piecesAt = `
WITH RECURSIVE known (key) AS (
	SELECT min(key) FROM piece
	UNION ALL
	SELECT (SELECT min(p.key) FROM piece p WHERE p.key > known.key) FROM known WHERE known.key IS NOT NULL
), version (key, text) AS MATERIALIZED (
	SELECT known.key, (SELECT p.text FROM piece p WHERE p.key = known.key AND p.revision <= $1 ORDER BY p.revision DESC LIMIT 1)
	FROM known
)
SELECT key, text FROM version WHERE text <> '' ORDER BY key`

// Pieces returns the plant as of a revision, sorted by key, without what was taken
// away.
func (t *tx) Pieces(number int64) ([]plant.Piece, error) {
	if _, err := t.Revision(number); err != nil {
		return nil, err
	}
	return rows(t.ctx, t, func(r *sql.Rows, p *plant.Piece) error { return r.Scan(&p.Key, &p.Text) }, piecesAt, number)
}

// Changes returns what a revision changed, sorted by key.
func (t *tx) Changes(number int64) ([]plant.PieceChange, error) {
	if _, err := t.Revision(number); err != nil {
		return nil, err
	}
	return rows(t.ctx, t, func(r *sql.Rows, c *plant.PieceChange) error { return r.Scan(&c.Key, &c.Before, &c.After) }, `
SELECT c.key, coalesce((SELECT p.text FROM piece p WHERE p.key = c.key AND p.revision < c.revision ORDER BY p.revision DESC LIMIT 1), ''), c.text
FROM piece c WHERE c.revision = $1 ORDER BY c.key`, number)
}

// Changed is the number of the newest revision that changed the piece.
func (t *tx) Changed(key string) (int64, error) {
	return one(t, func(r *sql.Rows, n *int64) error { return r.Scan(n) },
		"SELECT revision FROM piece WHERE key = $1 ORDER BY revision DESC LIMIT 1", key)
}

// Versions returns every version of a piece, the oldest first.
func (t *tx) Versions(key string) ([]api.PieceVersion, error) {
	list, err := rows(t.ctx, t, func(r *sql.Rows, v *api.PieceVersion) error { return r.Scan(&v.Revision, &v.Text) },
		"SELECT revision, text FROM piece WHERE key = $1 ORDER BY revision", key)
	if err == nil && len(list) == 0 {
		err = api.ErrNone
	}
	return list, err
}
