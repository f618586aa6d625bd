package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wetdown/api"
	"wetdown/api/store/pgtest"
	"wetdown/solver/plant"
)

func TestMain(m *testing.M) {
	if name := os.Getenv(crashFile); name != "" {
		writeUntilKilled(name)
	}
	os.Exit(m.Run())
}

// kinds of database, each with the URL of a new one.
var kinds = []struct {
	name string
	url  func(t testing.TB) string
}{
	{"SQLite", func(t testing.TB) string { return filepath.Join(t.TempDir(), "wetdown.db") }},
	{"PostgreSQL", pgtest.URL},
}

// each runs a test on a new database of each kind.
func each(t *testing.T, f func(t *testing.T, s *Store)) {
	for _, k := range kinds {
		t.Run(k.name, func(t *testing.T) { f(t, open(t, k.url(t))) })
	}
}

func open(t testing.TB, url string) *Store {
	t.Helper()
	s, err := Open(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
		if err := s.Close(); err != nil {
			t.Errorf("closed again: %v", err)
		}
	})
	return s
}

func update(t testing.TB, s *Store, f func(t api.Tx) error) {
	t.Helper()
	if err := s.Update(t.Context(), f); err != nil {
		t.Fatal(err)
	}
}

func view(t testing.TB, s *Store, f func(t api.Tx) error) {
	t.Helper()
	if err := s.View(t.Context(), f); err != nil {
		t.Fatal(err)
	}
}

// yields fails unless a call gave what is wanted, and no error.
func yields[T any](t testing.TB, want T) func(got T, err error) {
	return func(got T, err error) {
		t.Helper()
		if err != nil {
			t.Errorf("error: %v", err)
		} else if d := cmp.Diff(want, got); d != "" {
			t.Errorf("(-want +got):\n%s", d)
		}
	}
}

// fails fails unless a call gave that error.
func fails[T any](t testing.TB, want error) func(got T, err error) {
	return func(got T, err error) {
		t.Helper()
		if !errors.Is(err, want) {
			t.Errorf("got %v and the error %v, want the error %v", got, err, want)
		}
	}
}

var noon = time.Date(2027, 4, 5, 12, 0, 0, int(7*time.Millisecond), time.UTC)

func revision(n int64) api.Revision {
	return api.Revision{Number: n, Base: n - 1, At: noon.Add(time.Duration(n) * time.Hour), Who: "ada", Act: "book", Why: "Größe 3½ — «é»", What: fmt.Sprintf("change %d", n), Undoes: n / 3}
}

// to is a change as it is handed to AddRevision.
func to(key, text string) plant.PieceChange { return plant.PieceChange{Key: key, After: text} }

func TestStore_Revisions(t *testing.T) {
	each(t, func(t *testing.T, s *Store) {
		view(t, s, func(x api.Tx) error {
			yields(t, int64(0))(x.Head())
			fails[api.Revision](t, api.ErrNone)(x.Revision(1))
			fails[[]plant.Piece](t, api.ErrNone)(x.Pieces(0))
			fails[[]plant.PieceChange](t, api.ErrNone)(x.Changes(1))
			fails[int64](t, api.ErrNone)(x.Changed("name"))
			fails[[]api.PieceVersion](t, api.ErrNone)(x.Versions("name"))
			yields(t, []api.Revision(nil))(x.Revisions(0, 10))
			return nil
		})
		update(t, s, func(x api.Tx) error {
			if err := x.AddRevision(revision(2), nil); !errors.Is(err, api.ErrMoved) {
				t.Errorf("revision 2 before 1: %v", err)
			}
			return x.AddRevision(revision(1), []plant.PieceChange{to("trucks", "T-1\nT-2"), to("trucks/T-2", "two"), to("trucks/T-1", "one"), to("Z", "upper"), to("a", "lower"), to("ä", "über")})
		})
		update(t, s, func(x api.Tx) error {
			return x.AddRevision(revision(2), []plant.PieceChange{{Key: "trucks/T-1", Before: "a lie", After: "one'"}, to("trucks/T-2", ""), to("trucks", "T-1")})
		})
		update(t, s, func(x api.Tx) error {
			return x.AddRevision(revision(3), []plant.PieceChange{to("trucks/T-2", "again")})
		})
		update(t, s, func(x api.Tx) error { return x.AddRevision(revision(4), nil) })
		update(t, s, func(x api.Tx) error {
			for _, n := range []int64{-1, 0, 1, 4, 6} {
				if err := x.AddRevision(revision(n), nil); !errors.Is(err, api.ErrMoved) {
					t.Errorf("revision %d after 4: %v", n, err)
				}
			}
			return nil
		})
		view(t, s, func(x api.Tx) error {
			yields(t, int64(4))(x.Head())
			for n := int64(1); n <= 4; n++ {
				yields(t, revision(n))(x.Revision(n))
			}
			fails[api.Revision](t, api.ErrNone)(x.Revision(5))
			yields(t, []api.Revision{revision(4), revision(3)})(x.Revisions(0, 2))
			yields(t, []api.Revision{revision(2), revision(1)})(x.Revisions(3, 2))
			yields(t, []api.Revision{revision(3), revision(2), revision(1)})(x.Revisions(4, 0))

			// Sorted by bytes: Z before a before ä.
			yields(t, []plant.Piece{{Key: "Z", Text: "upper"}, {Key: "a", Text: "lower"}, {Key: "trucks", Text: "T-1\nT-2"}, {Key: "trucks/T-1", Text: "one"}, {Key: "trucks/T-2", Text: "two"}, {Key: "ä", Text: "über"}})(x.Pieces(1))
			yields(t, []plant.Piece{{Key: "Z", Text: "upper"}, {Key: "a", Text: "lower"}, {Key: "trucks", Text: "T-1"}, {Key: "trucks/T-1", Text: "one'"}, {Key: "ä", Text: "über"}})(x.Pieces(2))
			now := []plant.Piece{{Key: "Z", Text: "upper"}, {Key: "a", Text: "lower"}, {Key: "trucks", Text: "T-1"}, {Key: "trucks/T-1", Text: "one'"}, {Key: "trucks/T-2", Text: "again"}, {Key: "ä", Text: "über"}}
			yields(t, now)(x.Pieces(3))
			yields(t, now)(x.Pieces(4))
			fails[[]plant.Piece](t, api.ErrNone)(x.Pieces(5))

			yields(t, []plant.PieceChange{{Key: "trucks", Before: "T-1\nT-2", After: "T-1"}, {Key: "trucks/T-1", Before: "one", After: "one'"}, {Key: "trucks/T-2", Before: "two"}})(x.Changes(2))
			yields(t, []plant.PieceChange{{Key: "trucks/T-2", After: "again"}})(x.Changes(3))
			yields(t, []plant.PieceChange(nil))(x.Changes(4))
			fails[[]plant.PieceChange](t, api.ErrNone)(x.Changes(5))

			yields(t, int64(3))(x.Changed("trucks/T-2"))
			yields(t, int64(1))(x.Changed("Z"))
			fails[int64](t, api.ErrNone)(x.Changed("z"))
			yields(t, []api.PieceVersion{{Revision: 1, Text: "two"}, {Revision: 2}, {Revision: 3, Text: "again"}})(x.Versions("trucks/T-2"))
			fails[[]api.PieceVersion](t, api.ErrNone)(x.Versions("trucks/"))
			return nil
		})
		err := s.Update(t.Context(), func(x api.Tx) error {
			return x.AddRevision(revision(5), []plant.PieceChange{to("b", "1"), to("c", "1"), to("b", "2")})
		})
		if err == nil || !strings.Contains(err.Error(), "piece b twice") {
			t.Errorf("a piece changed twice: %v", err)
		}
	})
}

func TestStore_Records(t *testing.T) {
	each(t, func(t *testing.T, s *Store) {
		due := noon.Add(999 * time.Microsecond).In(time.FixedZone("away", 3600))
		want := api.Record{Kind: "job", ID: "J/é 1", State: "open", Ref: "T-1", Due: noon, Body: []byte(`{"name":"Ünïcode \u0000 🚒"}`), Version: 1, Seq: 1}
		put := want
		put.Due, put.Version, put.Seq = due, 0, 77
		update(t, s, func(x api.Tx) error {
			yields(t, want)(x.Put(put))
			fails[api.Record](t, api.ErrExists)(x.Put(put))
			stale := put
			stale.Version = 2
			fails[api.Record](t, api.ErrMoved)(x.Put(stale))
			stale.ID = "none"
			fails[api.Record](t, api.ErrMoved)(x.Put(stale))
			fails[api.Record](t, api.ErrNone)(x.Get("job", "none"))
			fails[api.Record](t, api.ErrNone)(x.Get("call", put.ID))
			put.Kind = "call" // the same ID in another kind is another record
			other := want
			other.Kind, other.Seq = "call", 2
			yields(t, other)(x.Put(put))
			return nil
		})
		update(t, s, func(x api.Tx) error {
			again := api.Record{Kind: "job", ID: want.ID, State: "done", Body: []byte("{}"), Version: 1}
			want = api.Record{Kind: "job", ID: want.ID, State: "done", Body: []byte("{}"), Version: 2, Seq: 1}
			yields(t, want)(x.Put(again))
			fails[api.Record](t, api.ErrMoved)(x.Put(again))
			return nil
		})
		view(t, s, func(x api.Tx) error { yields(t, want)(x.Get("job", want.ID)); return nil })
		update(t, s, func(x api.Tx) error {
			for range 2 {
				if err := x.Delete("call", want.ID); err != nil {
					return err
				}
			}
			fails[api.Record](t, api.ErrNone)(x.Get("call", want.ID))
			// The number of the one deleted, the newest, is not given again.
			got, err := x.Put(api.Record{Kind: "call", ID: "next"})
			if got.Seq != 3 || len(got.Body) != 0 {
				t.Errorf("the next is %+v", got)
			}
			return err
		})
	})
}

func TestStore_List(t *testing.T) {
	each(t, func(t *testing.T, s *Store) {
		const n = 12
		update(t, s, func(x api.Tx) error {
			for i := range n {
				r := api.Record{Kind: "call", ID: fmt.Sprint(n - i), State: []string{"open", "done"}[i%2], Ref: []string{"", "T-1", "T-2"}[i%3]}
				if i%4 != 0 {
					r.Due = noon.Add(time.Duration(n-i) * time.Millisecond)
				}
				if _, err := x.Put(r); err != nil {
					return err
				}
				if _, err := x.Put(api.Record{Kind: "other", ID: fmt.Sprint(i), Due: noon}); err != nil {
					return err
				}
			}
			return nil
		})
		lists := func(q api.Query, want ...int) { // numbers of i above; Seq is 2i+1
			t.Helper()
			view(t, s, func(x api.Tx) error {
				list, err := x.List(q)
				got := []int{}
				for _, r := range list {
					if r.Kind != q.Kind {
						t.Errorf("%+v found %+v", q, r)
					}
					got = append(got, int(r.Seq-1)/2)
				}
				yields(t, append([]int{}, want...))(got, err)
				return nil
			})
		}
		lists(api.Query{Kind: "call"}, 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11)
		lists(api.Query{Kind: "call", Newest: true, Limit: 3}, 11, 10, 9)
		lists(api.Query{Kind: "call", State: "done", Limit: 2}, 1, 3)
		lists(api.Query{Kind: "call", Ref: "T-2"}, 2, 5, 8, 11)
		lists(api.Query{Kind: "call", State: "open", Ref: "T-1"}, 4, 10)
		lists(api.Query{Kind: "none"})
		lists(api.Query{Kind: "call", DueBefore: noon.Add(3 * time.Millisecond)}, 10, 11)
		lists(api.Query{Kind: "call", DueBefore: noon.Add(3*time.Millisecond + 1)}, 9, 10, 11)
		lists(api.Query{Kind: "call", DueBefore: noon.Add(time.Hour), State: "open"}, 2, 6, 10)
		lists(api.Query{Kind: "call", DueBefore: noon.Add(time.Hour), Newest: true, Limit: 2}, 11, 10)
		lists(api.Query{Kind: "call", DueBefore: noon})

		// Pages, forwards and back, have every record once.
		for _, newest := range []bool{false, true} {
			q := api.Query{Kind: "call", State: "open", Newest: newest, Limit: 2}
			var seen []int64
			for {
				var page []api.Record
				view(t, s, func(x api.Tx) (err error) { page, err = x.List(q); return err })
				if len(page) == 0 {
					break
				}
				for _, r := range page {
					seen = append(seen, r.Seq)
				}
				if newest {
					q.Before = seen[len(seen)-1]
				} else {
					q.After = seen[len(seen)-1]
				}
			}
			want := []int64{1, 5, 9, 13, 17, 21}
			if newest {
				slices.Reverse(want)
			}
			yields(t, want)(seen, nil)
		}
		lists(api.Query{Kind: "call", After: 3, Before: 11}, 2, 3, 4)
	})
}

func TestStore_Events(t *testing.T) {
	each(t, func(t *testing.T, s *Store) {
		event := func(n int) api.Event {
			return api.Event{At: noon.Add(time.Duration(-n) * time.Hour), Who: "ada", Act: "book", Subject: "visits/V-7", Outcome: "done", Detail: fmt.Sprintf("№ %d", n)}
		}
		for n := range 5 {
			// One that is not kept leaves no gap.
			if err := s.Update(t.Context(), func(x api.Tx) error { return errors.Join(x.AddEvent(event(-1)), errStop) }); !errors.Is(err, errStop) {
				t.Fatal(err)
			}
			update(t, s, func(x api.Tx) error { return x.AddEvent(event(n)) })
		}
		kept := func(n int) api.Event { e := event(n); e.Seq = int64(n) + 1; return e }
		view(t, s, func(x api.Tx) error {
			yields(t, []api.Event{kept(4), kept(3)})(x.Events(0, 2))
			yields(t, []api.Event{kept(1), kept(0)})(x.Events(3, 9))
			yields(t, []api.Event(nil))(x.Events(1, 9))
			return nil
		})
	})
}

var errStop = errors.New("stop here")

func TestStore_LargeBody(t *testing.T) {
	each(t, func(t *testing.T, s *Store) {
		body := bytes.Repeat([]byte("\"ß🚒\\n\" "), 5<<20/12)
		update(t, s, func(x api.Tx) error { _, err := x.Put(api.Record{Kind: "file", ID: "1", Body: body}); return err })
		view(t, s, func(x api.Tx) error {
			r, err := x.Get("file", "1")
			if !bytes.Equal(r.Body, body) {
				t.Errorf("%d bytes came back for %d", len(r.Body), len(body))
			}
			return err
		})
	})
}

// What is no text is refused alike everywhere, and nothing of it is kept.
func TestStore_NoText(t *testing.T) {
	each(t, func(t *testing.T, s *Store) {
		for _, bad := range []string{"a\x00b", "\xff", "\xc3"} {
			for name, f := range map[string]func(api.Tx) error{
				"revision": func(x api.Tx) error { return x.AddRevision(api.Revision{Number: 1, Why: bad}, nil) },
				"key":      func(x api.Tx) error { return x.AddRevision(api.Revision{Number: 1}, []plant.PieceChange{to(bad, "")}) },
				"piece":    func(x api.Tx) error { return x.AddRevision(api.Revision{Number: 1}, []plant.PieceChange{to("a", bad)}) },
				"record":   func(x api.Tx) error { _, err := x.Put(api.Record{Kind: "k", Ref: bad}); return err },
				"body":     func(x api.Tx) error { _, err := x.Put(api.Record{Kind: "k", Body: []byte(bad)}); return err },
				"event":    func(x api.Tx) error { return x.AddEvent(api.Event{Detail: bad}) },
			} {
				if err := s.Update(t.Context(), f); err == nil || !strings.Contains(err.Error(), "take them out") {
					t.Errorf("%s with %q: %v", name, bad, err)
				}
			}
		}
		view(t, s, func(x api.Tx) error { yields(t, int64(0))(x.Head()); return nil })
	})
}

func TestStore_Snapshot(t *testing.T) {
	each(t, func(t *testing.T, s *Store) {
		change := func(n int64) {
			update(t, s, func(x api.Tx) error {
				if _, err := x.Put(api.Record{Kind: "k", ID: fmt.Sprint(n)}); err != nil {
					return err
				}
				return errors.Join(x.AddEvent(api.Event{Detail: "d"}), x.AddRevision(revision(n), []plant.PieceChange{to("a", fmt.Sprint(n))}))
			})
		}
		change(1)
		view(t, s, func(x api.Tx) error {
			change(2) // before the first look
			for range 2 {
				yields(t, int64(1))(x.Head())
				yields(t, []plant.Piece{{Key: "a", Text: "1"}})(x.Pieces(1))
				fails[api.Record](t, api.ErrNone)(x.Get("k", "2"))
				events, err := x.Events(0, 0)
				yields(t, 1)(len(events), err)
				change(3)
				change = func(int64) {}
			}
			return nil
		})
		view(t, s, func(x api.Tx) error { yields(t, int64(3))(x.Head()); return nil })
	})
}

func TestStore_ViewWritesNothing(t *testing.T) {
	each(t, func(t *testing.T, s *Store) {
		for name, f := range map[string]func(api.Tx) error{
			"revision": func(x api.Tx) error { return x.AddRevision(revision(1), nil) },
			"put":      func(x api.Tx) error { _, err := x.Put(api.Record{Kind: "k"}); return err },
			"delete":   func(x api.Tx) error { return x.Delete("k", "") },
			"event":    func(x api.Tx) error { return x.AddEvent(api.Event{}) },
		} {
			if err := s.View(t.Context(), f); err == nil || !strings.Contains(err.Error(), "use Update") {
				t.Errorf("%s in a view: %v", name, err)
			}
		}
		// Nor does the database let it through.
		err := s.view(t.Context(), func(x *tx) error { return x.exec("DELETE FROM record") })
		if err == nil {
			t.Error("a statement that deletes passes in a view")
		}
	})
}

func TestStore_AllOrNothing(t *testing.T) {
	each(t, func(t *testing.T, s *Store) {
		half := func(x api.Tx) error {
			if err := x.AddRevision(revision(1), []plant.PieceChange{to("a", "1")}); err != nil {
				return err
			}
			if _, err := x.Put(api.Record{Kind: "k", ID: "1"}); err != nil {
				return err
			}
			return x.AddEvent(api.Event{Detail: "d"})
		}
		nothing := func(after string) {
			t.Helper()
			view(t, s, func(x api.Tx) error {
				yields(t, int64(0))(x.Head())
				yields(t, []api.Record(nil))(x.List(api.Query{Kind: "k"}))
				yields(t, []api.Event(nil))(x.Events(0, 0))
				return nil
			})
			if t.Failed() {
				t.Fatal("after " + after)
			}
		}
		err := s.Update(t.Context(), func(x api.Tx) error { return errors.Join(half(x), errStop) })
		if !errors.Is(err, errStop) {
			t.Errorf("the error of f: %v", err)
		}
		nothing("an error")

		func() {
			defer func() {
				if r := recover(); r != errStop {
					t.Errorf("the panic of f: %v", r)
				}
			}()
			s.Update(t.Context(), func(x api.Tx) error { half(x); panic(errStop) })
		}()
		nothing("a panic")

		ctx, cancel := context.WithCancel(t.Context())
		err = s.Update(ctx, func(x api.Tx) error { err := half(x); cancel(); return err })
		if !errors.Is(err, context.Canceled) {
			t.Errorf("ctx ends before f does: %v", err)
		}
		nothing("the end of ctx before f returns")

		ctx, cancel = context.WithCancel(t.Context())
		err = s.Update(ctx, func(x api.Tx) error { cancel(); return half(x) })
		if !errors.Is(err, context.Canceled) {
			t.Errorf("ctx ends in the middle: %v", err)
		}
		nothing("the end of ctx in the middle")

		for name, f := range map[string]func(context.Context, func(api.Tx) error) error{"View": s.View, "Update": s.Update} {
			if err := f(ctx, func(api.Tx) error { t.Errorf("%s runs f when ctx has ended", name); return nil }); !errors.Is(err, context.Canceled) {
				t.Errorf("%s when ctx has ended: %v", name, err)
			}
		}
		update(t, s, half) // and everything works as before
		view(t, s, func(x api.Tx) error { yields(t, int64(1))(x.Head()); return nil })
	})
}

// Two programs on one database: what one does the other must see.
func both(t *testing.T, f func(t *testing.T, one, two *Store)) {
	for _, k := range kinds {
		t.Run(k.name, func(t *testing.T) {
			url := k.url(t)
			f(t, open(t, url), open(t, url))
		})
	}
}

func TestStore_Race(t *testing.T) {
	both(t, func(t *testing.T, one, two *Store) {
		for n := int64(1); n <= 20; n++ {
			var wg sync.WaitGroup
			outcome := make([]error, 2)
			for i, s := range []*Store{one, two} {
				wg.Go(func() {
					outcome[i] = s.Update(t.Context(), func(x api.Tx) error {
						return x.AddRevision(revision(n), []plant.PieceChange{to("who", fmt.Sprint(i))})
					})
				})
			}
			wg.Wait()
			winner := slices.Index(outcome, nil)
			if winner < 0 || !errors.Is(outcome[1-winner], api.ErrMoved) {
				t.Fatalf("revision %d: %v", n, outcome)
			}
			for _, s := range []*Store{one, two} {
				view(t, s, func(x api.Tx) error {
					yields(t, []plant.Piece{{Key: "who", Text: fmt.Sprint(winner)}})(x.Pieces(n))
					return nil
				})
			}
		}
	})
}

func TestStore_NoLostUpdate(t *testing.T) {
	both(t, func(t *testing.T, one, two *Store) {
		const writers, times = 8, 50
		update(t, one, func(x api.Tx) error {
			_, err := x.Put(api.Record{Kind: "count", ID: "1", Body: []byte("0")})
			return err
		})
		var wg sync.WaitGroup
		for w := range writers {
			s := []*Store{one, two}[w%2]
			wg.Go(func() {
				for range times {
					for done := false; !done; {
						var r api.Record
						var n int
						if err := s.View(t.Context(), func(x api.Tx) (err error) { r, err = x.Get("count", "1"); return err }); err != nil {
							t.Error(err)
							return
						}
						fmt.Sscan(string(r.Body), &n)
						r.Body = fmt.Append(nil, n+1)
						err := s.Update(t.Context(), func(x api.Tx) error { _, err := x.Put(r); return errors.Join(err, x.AddEvent(api.Event{})) })
						if done = err == nil; !done && !errors.Is(err, api.ErrMoved) {
							t.Error(err)
							return
						}
					}
				}
			})
		}
		wg.Wait()
		view(t, two, func(x api.Tx) error {
			r, err := x.Get("count", "1")
			if string(r.Body) != fmt.Sprint(writers*times) || r.Version != writers*times+1 {
				t.Errorf("%d writers added 1 %d times: %s, version %d", writers, times, r.Body, r.Version)
			}
			return err
		})
		if err := two.Check(t.Context()); err != nil {
			t.Error(err)
		}
	})
}

// Read and write within one Update need no version to be safe.
func TestStore_UpdatesFollowOneAnother(t *testing.T) {
	both(t, func(t *testing.T, one, two *Store) {
		const writers, times = 4, 25
		var wg sync.WaitGroup
		for w := range writers {
			s := []*Store{one, two}[w%2]
			wg.Go(func() {
				for range times {
					err := s.Update(t.Context(), func(x api.Tx) error {
						head, err := x.Head()
						if err != nil {
							return err
						}
						return x.AddRevision(revision(head+1), nil)
					})
					if err != nil {
						t.Error(err)
						return
					}
				}
			})
		}
		wg.Wait()
		view(t, one, func(x api.Tx) error { yields(t, int64(writers*times))(x.Head()); return nil })
	})
}

func TestStore_OnlyAddedTo(t *testing.T) {
	each(t, func(t *testing.T, s *Store) {
		update(t, s, func(x api.Tx) error {
			return errors.Join(x.AddRevision(revision(1), []plant.PieceChange{to("a", "1")}), x.AddEvent(api.Event{Detail: "d"}))
		})
		for _, statement := range []string{
			"UPDATE revision SET why = 'x'", "DELETE FROM revision",
			"UPDATE piece SET text = 'x'", "DELETE FROM piece",
			"UPDATE event SET detail = 'x'", "DELETE FROM event",
		} {
			if _, err := s.write.Exec(statement); err == nil || !strings.Contains(err.Error(), "only ever added to") {
				t.Errorf("%s: %v", statement, err)
			}
		}
		if _, err := s.write.Exec("INSERT INTO piece (key, revision, text) VALUES ('a', 9, '')"); err == nil {
			t.Error("a piece of a revision that is not there passes")
		}
		if err := s.Check(t.Context()); err != nil {
			t.Error(err)
		}
	})
}

func TestStore_CloseWaits(t *testing.T) {
	each(t, func(t *testing.T, s *Store) {
		begun, closed := make(chan bool), make(chan error)
		go func() {
			<-begun
			closed <- s.Close()
		}()
		update(t, s, func(x api.Tx) error {
			close(begun)
			for {
				if leave, err := s.enter(); err != nil {
					break // Close has been called
				} else {
					leave()
				}
			}
			select {
			case <-closed:
				t.Error("closed while an update is under way")
			default:
			}
			return x.AddRevision(revision(1), nil)
		})
		if err := <-closed; err != nil {
			t.Error(err)
		}
		if err := s.View(t.Context(), func(api.Tx) error { return nil }); err == nil || !strings.Contains(err.Error(), "closed") {
			t.Errorf("a view of what is closed: %v", err)
		}
	})
}

// Programs that start at once on a new database all find its tables.
func TestStore_OpenAtOnce(t *testing.T) {
	for _, k := range kinds {
		t.Run(k.name, func(t *testing.T) {
			url := k.url(t)
			var wg sync.WaitGroup
			for i := range 4 {
				wg.Go(func() {
					s, err := Open(t.Context(), url)
					if err != nil {
						t.Error(err)
						return
					}
					err = s.Update(t.Context(), func(x api.Tx) error { _, err := x.Put(api.Record{Kind: "k", ID: fmt.Sprint(i)}); return err })
					if err := errors.Join(err, s.Close()); err != nil {
						t.Error(err)
					}
				})
			}
			wg.Wait()
			view(t, open(t, url), func(x api.Tx) error {
				list, err := x.List(api.Query{Kind: "k"})
				yields(t, 4)(len(list), err)
				return nil
			})
		})
	}
}

// What is promised about a loss of power rests on these settings of SQLite
// (sqlite.org/pragma.html: synchronous 2 is FULL), and on every connection that writes.
func TestOpen_SQLiteSettings(t *testing.T) {
	s := open(t, kinds[0].url(t))
	for _, c := range []struct{ pragma, want string }{{"synchronous", "2"}, {"journal_mode", "wal"}, {"foreign_keys", "1"}, {"busy_timeout", "5000"}} {
		var got string
		if err := s.write.QueryRow("PRAGMA " + c.pragma).Scan(&got); err != nil || got != c.want {
			t.Errorf("%s is %s, want %s (%v)", c.pragma, got, c.want, err)
		}
	}
}
