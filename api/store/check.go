package store

import (
	"context"
	"fmt"

	"wetdown/solver/plant"
)

// Check has the database look at itself, and looks whether what is kept hangs
// together: revisions and events without gaps, pieces of revisions that are there, and
// a newest revision whose pieces make a plant file. It reads all of it; others may work
// meanwhile.
func (s *Store) Check(ctx context.Context) error {
	return s.view(ctx, func(t *tx) error {
		if err := s.base.look(ctx, t.Tx); err != nil {
			return err
		}
		if err := t.coherent(); err != nil {
			return fmt.Errorf("%s: %w: keep it as it is for whoever looks into it, and restore the newest backup to another database with wetdown restore", s.base.place(), err)
		}
		return nil
	})
}

// coherent looks at what this program promises of the tables.
func (t *tx) coherent() error {
	for _, look := range []struct{ query, found string }{
		{"SELECT coalesce(min(n), 0) FROM (SELECT number + 1 AS n FROM revision UNION ALL SELECT 1) after WHERE n < (SELECT max(number) FROM revision) AND NOT EXISTS (SELECT 1 FROM revision WHERE number = n)",
			"revision %d is missing"},
		{"SELECT coalesce(min(n), 0) FROM (SELECT seq + 1 AS n FROM event UNION ALL SELECT 1) after WHERE n < (SELECT max(seq) FROM event) AND NOT EXISTS (SELECT 1 FROM event WHERE seq = n)",
			"event %d is missing"},
		{"SELECT coalesce(min(revision), 0) FROM piece WHERE NOT EXISTS (SELECT 1 FROM revision WHERE number = piece.revision)",
			"there are pieces of revision %d, and no such revision"},
		{"SELECT coalesce(max(seq), 0) FROM record WHERE seq > (SELECT max(records) FROM tally)",
			"record number %d is newer than the last number given"},
		{"SELECT 1 - count(*) FROM tally",
			"the row of table tally is missing (%d)"},
	} {
		n, err := t.number(look.query)
		if err != nil {
			return err
		}
		if n != 0 {
			return fmt.Errorf(look.found, n)
		}
	}
	head, err := t.Head()
	if err != nil || head == 0 {
		return err
	}
	pieces, err := t.Pieces(head)
	if err != nil {
		return err
	}
	if _, err := plant.Join(pieces); err != nil {
		return fmt.Errorf("the pieces of revision %d make no plant: %w", head, err)
	}
	return nil
}
