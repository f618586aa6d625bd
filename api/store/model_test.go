package store

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	gocmp "github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"wetdown/api"
	"wetdown/solver/plant"
)

// A model is a store as one would write it first: everything in slices, every answer by
// going through all of it.
type model struct {
	revisions []api.Revision
	pieces    [][]plant.Piece // by revision: all that it left there
	changed   [][]string      // by revision: the keys that it named
	records   []api.Record
	given     int64
	events    []api.Event
}

func (m *model) clone() *model {
	c := *m
	c.revisions, c.pieces, c.changed = slices.Clone(m.revisions), slices.Clone(m.pieces), slices.Clone(m.changed)
	c.records, c.events = slices.Clone(m.records), slices.Clone(m.events)
	return &c
}

func (m *model) at(n int64) []plant.Piece {
	if n == 0 {
		return nil
	}
	return m.pieces[n-1]
}

func textOf(pieces []plant.Piece, key string) string {
	for _, p := range pieces {
		if p.Key == key {
			return p.Text
		}
	}
	return ""
}

func (m *model) Head() (int64, error) { return int64(len(m.revisions)), nil }

func (m *model) AddRevision(r api.Revision, changes []plant.PieceChange) error {
	if r.Number != int64(len(m.revisions))+1 {
		return api.ErrMoved
	}
	next := slices.Clone(m.at(r.Number - 1))
	var keys []string
	for _, c := range changes {
		keys = append(keys, c.Key)
		next = slices.DeleteFunc(next, func(p plant.Piece) bool { return p.Key == c.Key })
		if c.After != "" {
			next = append(next, plant.Piece{Key: c.Key, Text: c.After})
		}
	}
	slices.SortFunc(next, func(a, b plant.Piece) int { return strings.Compare(a.Key, b.Key) })
	if len(next) == 0 {
		next = nil
	}
	slices.Sort(keys)
	m.revisions, m.pieces, m.changed = append(m.revisions, r), append(m.pieces, next), append(m.changed, keys)
	return nil
}

func (m *model) there(n int64) error {
	if n < 1 || n > int64(len(m.revisions)) {
		return api.ErrNone
	}
	return nil
}

func (m *model) Revision(n int64) (api.Revision, error) {
	if err := m.there(n); err != nil {
		return api.Revision{}, err
	}
	return m.revisions[n-1], nil
}

// page is the newest of a list with numbers below `before`.
func page[T any](list []T, number func(T) int64, before int64, limit int) (got []T) {
	for _, v := range slices.Backward(list) {
		if (before == 0 || number(v) < before) && (limit == 0 || len(got) < limit) {
			got = append(got, v)
		}
	}
	return got
}

func (m *model) Revisions(before int64, limit int) ([]api.Revision, error) {
	return page(m.revisions, func(r api.Revision) int64 { return r.Number }, before, limit), nil
}

func (m *model) Pieces(n int64) ([]plant.Piece, error) {
	if err := m.there(n); err != nil {
		return nil, err
	}
	return m.at(n), nil
}

func (m *model) Changes(n int64) (list []plant.PieceChange, err error) {
	if err := m.there(n); err != nil {
		return nil, err
	}
	for _, key := range m.changed[n-1] {
		list = append(list, plant.PieceChange{Key: key, Before: textOf(m.at(n-1), key), After: textOf(m.at(n), key)})
	}
	return list, nil
}

func (m *model) Versions(key string) (list []api.PieceVersion, err error) {
	for i, keys := range m.changed {
		if slices.Contains(keys, key) {
			list = append(list, api.PieceVersion{Revision: int64(i) + 1, Text: textOf(m.pieces[i], key)})
		}
	}
	if list == nil {
		return nil, api.ErrNone
	}
	return list, nil
}

func (m *model) Changed(key string) (int64, error) {
	list, err := m.Versions(key)
	if err != nil {
		return 0, err
	}
	return list[len(list)-1].Revision, nil
}

func (m *model) index(kind, id string) int {
	return slices.IndexFunc(m.records, func(r api.Record) bool { return r.Kind == kind && r.ID == id })
}

func (m *model) Put(r api.Record) (api.Record, error) {
	i := m.index(r.Kind, r.ID)
	switch {
	case r.Version == 0 && i >= 0:
		return api.Record{}, api.ErrExists
	case r.Version != 0 && (i < 0 || m.records[i].Version != r.Version):
		return api.Record{}, api.ErrMoved
	case r.Version == 0:
		m.given++
		r.Seq = m.given
		m.records = append(m.records, r)
		i = len(m.records) - 1
	default:
		r.Seq = m.records[i].Seq
	}
	r.Version++
	m.records[i] = r
	return r, nil
}

func (m *model) Get(kind, id string) (api.Record, error) {
	if i := m.index(kind, id); i >= 0 {
		return m.records[i], nil
	}
	return api.Record{}, api.ErrNone
}

func (m *model) List(q api.Query) (list []api.Record, err error) {
	for _, r := range m.records {
		if r.Kind == q.Kind && (q.State == "" || r.State == q.State) && (q.Ref == "" || r.Ref == q.Ref) &&
			(q.DueBefore.IsZero() || !r.Due.IsZero() && r.Due.Before(q.DueBefore)) &&
			(q.After == 0 || r.Seq > q.After) && (q.Before == 0 || r.Seq < q.Before) {
			list = append(list, r)
		}
	}
	slices.SortFunc(list, func(a, b api.Record) int { return cmp.Compare(a.Seq, b.Seq) })
	if q.Newest {
		slices.Reverse(list)
	}
	if q.Limit > 0 && len(list) > q.Limit {
		list = list[:q.Limit]
	}
	return list, nil
}

func (m *model) Delete(kind, id string) error {
	if i := m.index(kind, id); i >= 0 {
		m.records = slices.Delete(m.records, i, i+1)
	}
	return nil
}

func (m *model) AddEvent(e api.Event) error {
	e.Seq = int64(len(m.events)) + 1
	m.events = append(m.events, e)
	return nil
}

func (m *model) Events(before int64, limit int) ([]api.Event, error) {
	return page(m.events, func(e api.Event) int64 { return e.Seq }, before, limit), nil
}

var _ api.Tx = (*model)(nil)

// A call is one call of a transaction, drawn once and put to both.
type call struct {
	name string
	do   func(api.Tx) (any, error)
}

func said[T any](v T, err error) (any, error) { return v, err }

// Small sets, so that names and numbers meet.
var (
	drawKey   = rapid.SampledFrom([]string{"a", "a/b", "a/B", "trucks", "trucks/T-1", "ä", "Z", "a b"})
	drawText  = rapid.OneOf(rapid.Just(""), rapid.StringMatching(`[^\x00]{0,6}`))
	drawKind  = rapid.SampledFrom([]string{"call", "job"})
	drawID    = rapid.SampledFrom([]string{"1", "2", "é", "Z"})
	drawState = rapid.SampledFrom([]string{"", "open", "done"})
	drawN     = rapid.Int64Range(0, 9)
	drawLimit = rapid.IntRange(0, 4)
	drawTime  = rapid.Custom(func(t *rapid.T) time.Time {
		if ms := rapid.Int64Range(-2, 6).Draw(t, "ms"); ms > -2 {
			return noon.Add(time.Duration(ms) * time.Millisecond)
		}
		return time.Time{}
	})
)

func drawQuery(t *rapid.T) call {
	n, key, limit := drawN.Draw(t, "number"), drawKey.Draw(t, "key"), drawLimit.Draw(t, "limit")
	switch rapid.IntRange(0, 9).Draw(t, "question") {
	case 0:
		return call{"Head", func(x api.Tx) (any, error) { return said(x.Head()) }}
	case 1:
		return call{"Revision", func(x api.Tx) (any, error) { return said(x.Revision(n)) }}
	case 2:
		return call{"Revisions", func(x api.Tx) (any, error) { return said(x.Revisions(n, limit)) }}
	case 3:
		return call{"Pieces", func(x api.Tx) (any, error) { return said(x.Pieces(n)) }}
	case 4:
		return call{"Changes", func(x api.Tx) (any, error) { return said(x.Changes(n)) }}
	case 5:
		return call{"Changed", func(x api.Tx) (any, error) { return said(x.Changed(key)) }}
	case 6:
		return call{"Versions", func(x api.Tx) (any, error) { return said(x.Versions(key)) }}
	case 7:
		return call{"Events", func(x api.Tx) (any, error) { return said(x.Events(n, limit)) }}
	case 8:
		kind, id := drawKind.Draw(t, "kind"), drawID.Draw(t, "id")
		return call{"Get", func(x api.Tx) (any, error) { return said(x.Get(kind, id)) }}
	}
	q := api.Query{
		Kind: drawKind.Draw(t, "kind"), State: drawState.Draw(t, "state"), Ref: drawState.Draw(t, "ref"), DueBefore: drawTime.Draw(t, "due before"),
		After: drawN.Draw(t, "after"), Before: drawN.Draw(t, "before"), Newest: rapid.Bool().Draw(t, "newest"), Limit: limit,
	}
	return call{"List", func(x api.Tx) (any, error) { return said(x.List(q)) }}
}

func drawChange(t *rapid.T) call {
	switch rapid.IntRange(0, 5).Draw(t, "change") {
	case 0, 1:
		ahead := rapid.SampledFrom([]int64{1, 1, 1, 1, 0, 2}).Draw(t, "ahead")
		keys := rapid.SliceOfNDistinct(drawKey, 0, 4, rapid.ID).Draw(t, "keys")
		var changes []plant.PieceChange
		for _, key := range keys {
			changes = append(changes, to(key, drawText.Draw(t, "text")))
		}
		r := api.Revision{Base: drawN.Draw(t, "base"), At: noon, Who: drawText.Draw(t, "who"), Why: drawText.Draw(t, "why"), Undoes: drawN.Draw(t, "undoes")}
		return call{"AddRevision", func(x api.Tx) (any, error) {
			head, err := x.Head()
			if err != nil {
				return nil, err
			}
			r.Number = head + ahead
			return nil, x.AddRevision(r, changes)
		}}
	case 2, 3:
		r := api.Record{
			Kind: drawKind.Draw(t, "kind"), ID: drawID.Draw(t, "id"), State: drawState.Draw(t, "state"), Ref: drawState.Draw(t, "ref"),
			Due: drawTime.Draw(t, "due"), Body: []byte(drawText.Draw(t, "body")), Version: rapid.SampledFrom([]int64{0, 0, 0, 1, 1, 2}).Draw(t, "version"), Seq: drawN.Draw(t, "seq"),
		}
		return call{"Put", func(x api.Tx) (any, error) { return said(x.Put(r)) }}
	case 4:
		kind, id := drawKind.Draw(t, "kind"), drawID.Draw(t, "id")
		return call{"Delete", func(x api.Tx) (any, error) { return nil, x.Delete(kind, id) }}
	}
	e := api.Event{At: noon, Who: drawText.Draw(t, "who"), Detail: drawText.Draw(t, "detail")}
	return call{"AddEvent", func(x api.Tx) (any, error) { return nil, x.AddEvent(e) }}
}

// Random transactions, some of which end in an error, give what a naive store gives,
// answer by answer; afterwards everything is the same.
func TestStore_Model(t *testing.T) {
	each(t, func(t *testing.T, s *Store) {
		done := map[string]int{}
		rapid.Check(t, func(r *rapid.T) {
			ctx := t.Context()
			err := s.update(ctx, func(x *tx) error {
				return errors.Join(x.empty(s.base), x.exec("INSERT INTO tally (one, records) VALUES (1, 0)"))
			})
			if err != nil {
				r.Fatal(err)
			}
			kept := &model{}
			for n := rapid.IntRange(1, 12).Draw(r, "transactions"); n > 0; n-- {
				var calls []call
				writes := rapid.IntRange(0, 3).Draw(r, "writes") > 0
				for range rapid.IntRange(1, 10).Draw(r, "calls") {
					if writes && rapid.Bool().Draw(r, "a change") {
						calls = append(calls, drawChange(r))
					} else {
						calls = append(calls, drawQuery(r))
					}
				}
				stop := writes && rapid.IntRange(0, 3).Draw(r, "stop") == 0
				next := kept.clone()
				f := func(x api.Tx) error {
					for _, c := range calls {
						want, wantErr := c.do(next)
						got, err := c.do(x)
						if !errors.Is(err, wantErr) {
							r.Fatalf("%s: error %v, want %v", c.name, err, wantErr)
						}
						if d := gocmp.Diff(want, got); wantErr == nil && d != "" {
							r.Fatalf("%s (-want +got):\n%s", c.name, d)
						}
						done[fmt.Sprintf("%s, %v", c.name, wantErr)]++
					}
					if stop {
						return errStop
					}
					return nil
				}
				run := s.View
				if writes {
					run = s.Update
				}
				err := run(ctx, f)
				switch {
				case stop && !errors.Is(err, errStop) || !stop && err != nil:
					r.Fatal(err)
				case !stop:
					kept = next
				}
			}
			if err := s.View(ctx, func(x api.Tx) error { return same(r, kept, x) }); err != nil {
				r.Fatal(err)
			}
		})
		for _, must := range []string{
			"AddRevision, <nil>", "AddRevision, " + api.ErrMoved.Error(), "Put, <nil>", "Put, " + api.ErrExists.Error(), "Put, " + api.ErrMoved.Error(),
			"Pieces, <nil>", "Changes, <nil>", "Changes, " + api.ErrNone.Error(), "Versions, <nil>", "List, <nil>", "Get, <nil>", "Get, " + api.ErrNone.Error(),
		} {
			if done[must] == 0 {
				t.Errorf("never drawn: %s", must)
			}
		}
	})
}

// same compares all that a store and a model hold.
func same(r *rapid.T, want, got api.Tx) error {
	head, err := want.Head()
	if err != nil {
		return err
	}
	calls := []call{
		{"Head", func(x api.Tx) (any, error) { return said(x.Head()) }},
		{"Revisions", func(x api.Tx) (any, error) { return said(x.Revisions(0, 0)) }},
		{"Events", func(x api.Tx) (any, error) { return said(x.Events(0, 0)) }},
		{"List", func(x api.Tx) (any, error) { return said(x.List(api.Query{Kind: "call"})) }},
		{"List", func(x api.Tx) (any, error) { return said(x.List(api.Query{Kind: "job"})) }},
	}
	for n := int64(1); n <= head; n++ {
		calls = append(calls, call{"Pieces", func(x api.Tx) (any, error) { return said(x.Pieces(n)) }},
			call{"Changes", func(x api.Tx) (any, error) { return said(x.Changes(n)) }})
	}
	for _, c := range calls {
		a, errA := c.do(want)
		b, errB := c.do(got)
		if d := gocmp.Diff(a, b); errA != nil || errB != nil || d != "" {
			r.Fatalf("%s at the end: %v, %v (-want +got):\n%s", c.name, errA, errB, d)
		}
	}
	return nil
}
