package api

import (
	"context"
	"errors"
	"fmt"

	"wetdown/api/sheet"
)

// actOfSheet is the act that it takes to bring a table in.
func actOfSheet(k sheet.Kind) string {
	switch k {
	case sheet.Bookings:
		return ActBook
	case sheet.LineOff:
		return ActReport
	}
	return ActSetUp
}

// PreviewFile says what would become of every row of a table, and of which revision that
// is said. Nothing is written.
func (a *App) PreviewFile(ctx context.Context, who Actor, kind sheet.Kind, name string, data []byte) (*sheet.Preview, int64, error) {
	if err := who.must(actOfSheet(kind)); err != nil {
		return nil, 0, err
	}
	var p *sheet.Preview
	var revision int64
	err := a.store.View(ctx, func(tx Tx) error {
		s, err := a.headIn(tx)
		if err != nil {
			return err
		}
		revision = s.Revision.Number
		known, err := pastIn(tx)
		if err != nil {
			return err
		}
		p, err = sheet.Read(kind, name, data, s.Plant, sheet.Options{Known: known.val})
		return tabular(err)
	})
	return p, revision, err
}

// TakeFile brings a table in, all of it or nothing. seen is the revision that its preview
// spoke of; 0: nobody looked at one.
func (a *App) TakeFile(ctx context.Context, who Actor, i Intent, kind sheet.Kind, name string, data []byte, seen int64) (*State, *sheet.Preview, error) {
	if err := who.must(actOfSheet(kind)); err != nil {
		return nil, nil, err
	}
	var preview *sheet.Preview
	s, err := a.change(ctx, who, actOfSheet(kind), i, func(s *State) (*next, error) {
		if seen != 0 && seen != s.Revision.Number {
			return nil, &Problem{
				Kind: Stale, Title: "The plant has moved on", Detail: fmt.Sprintf("The preview spoke of revision %d, and the newest is %d.", seen, s.Revision.Number),
				Next: "Look at the preview anew.", Extra: map[string]any{"revision": s.Revision.Number, "seen": seen},
			}
		}
		var known entry[[]sheet.Past]
		err := a.store.View(ctx, func(tx Tx) (err error) {
			known, err = pastIn(tx)
			return err
		})
		if err != nil {
			return nil, err
		}
		if preview, err = sheet.Read(kind, name, data, s.Plant, sheet.Options{Known: known.val}); err != nil {
			return nil, tabular(err)
		}
		p, err := preview.Plant()
		if err != nil {
			return nil, tabular(err)
		}
		n := &next{plant: p, what: fmt.Sprintf("A table of %s was taken in: %d added, %d changed.", spoken(string(kind)), preview.Count(sheet.Added), preview.Count(sheet.Changed))}
		if kind == sheet.History {
			if known.val, err = preview.Past(); err != nil {
				return nil, tabular(err)
			}
			n.follow = func(tx Tx, r Revision) error {
				e := known
				takenWith(&e, r)
				return e.keep(tx)
			}
		}
		return n, nil
	})
	return s, preview, err
}

// GiveFile prints a table of the newest revision.
func (a *App) GiveFile(ctx context.Context, who Actor, kind sheet.Kind, f sheet.Format) ([]byte, error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	var data []byte
	err := a.store.View(ctx, func(tx Tx) error {
		s, err := a.headIn(tx)
		if err != nil {
			return err
		}
		if kind == sheet.History {
			known, err := a.past(tx, s)
			if err != nil {
				return err
			}
			data, err = sheet.WriteHistory(f, known.list)
			return err
		}
		data, err = sheet.Write(kind, f, s.Plant)
		return err
	})
	return data, err
}

// tabular turns the refusal of a table into a problem.
func tabular(err error) error {
	var r *sheet.Refusal
	if !errors.As(err, &r) {
		return err
	}
	return &Problem{Kind: Invalid, Title: "The table cannot be taken", Detail: sentence(r.Cause), Next: r.Next, Extra: map[string]any{"file": r.File, "line": r.Line, "column": r.Column}}
}
