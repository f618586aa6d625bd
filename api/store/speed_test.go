package store

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"wetdown/api"
	"wetdown/solver/plant"
)

// history keeps a plant of some pieces and many revisions, each of which changes a few
// of them.
func history(t testing.TB, s *Store, keys, revisions int) {
	dice := rand.New(rand.NewPCG(1, 2))
	text := func(n int) string { return fmt.Sprintf("{n: %d, pad: %s}", n, strings.Repeat("x", dice.IntN(400))) }
	names := make([]string, keys)
	for k := range names {
		names[k] = fmt.Sprintf("T-%04d", k)
	}
	const together = 500
	for from := 1; from <= revisions; from += together {
		update(t, s, func(x api.Tx) error {
			for n := from; n < from+together && n <= revisions; n++ {
				var changes []plant.PieceChange
				if n == 1 {
					changes = append(changes, to("trucks", strings.Join(names, "\n")))
				}
				for k := range keys {
					if n == 1 || dice.IntN(keys) < 8 {
						changes = append(changes, to("trucks/"+names[k], text(n)))
					}
				}
				if err := x.AddRevision(revision(int64(n)), changes); err != nil {
					return err
				}
			}
			return nil
		})
	}
}

// However long the history is, reading the plant looks at two rows for each of
// its pieces: PostgreSQL counts them, and SQLite says that it searches.
func TestStore_PiecesLooksAtFewRows(t *testing.T) {
	const keys, revisions = 200, 1000
	each(t, func(t *testing.T, s *Store) {
		history(t, s, keys, revisions)
		if _, ok := s.base.(*sqliteFile); ok {
			plan, err := rows(t.Context(), s.read, func(r *sql.Rows, v *string) error { var a, b, c int; return r.Scan(&a, &b, &c, v) }, "EXPLAIN QUERY PLAN "+piecesAt, revisions)
			if err != nil {
				t.Fatal(err)
			}
			searches := 0
			for _, step := range plan {
				if strings.HasPrefix(step, "SCAN p") {
					t.Errorf("goes through all pieces: %s", step)
				}
				if strings.HasPrefix(step, "SEARCH p") {
					searches++
				}
			}
			if searches != 3 {
				t.Errorf("%d searches, want 3: %s", searches, strings.Join(plan, "; "))
			}
			return
		}
		if _, err := s.write.Exec("ANALYZE"); err != nil {
			t.Fatal(err)
		}
		var out string
		if err := s.read.QueryRow("EXPLAIN (ANALYZE, FORMAT JSON) " + strings.ReplaceAll(piecesAt, "$1", fmt.Sprint(revisions))).Scan(&out); err != nil {
			t.Fatal(err)
		}
		var plans []struct{ Plan explained }
		if err := json.Unmarshal([]byte(out), &plans); err != nil {
			t.Fatal(err)
		}
		looked := plans[0].Plan.rows()
		t.Logf("%d keys, %d revisions: %d rows of the table looked at", keys, revisions, looked)
		if looked < keys || looked > 2*keys+10 {
			t.Errorf("%d rows looked at for %d pieces", looked, keys)
		}
	})
}

// An explained plan of PostgreSQL, as far as it is asked here.
type explained struct {
	Relation string      `json:"Relation Name"`
	Rows     float64     `json:"Actual Rows"`
	Removed  float64     `json:"Rows Removed by Filter"`
	Loops    float64     `json:"Actual Loops"`
	Plans    []explained `json:"Plans"`
}

// rows counts the rows of the table that were looked at.
func (e explained) rows() int {
	n := 0
	if e.Relation == "piece" {
		n = int((e.Rows + e.Removed) * e.Loops)
	}
	for _, p := range e.Plans {
		n += p.rows()
	}
	return n
}

// 200 trucks have some 900 pieces; 5,000 revisions are years of work.
func BenchmarkStore(b *testing.B) {
	for _, k := range kinds {
		s := open(b, k.url(b))
		history(b, s, 900, 5000)
		if _, err := s.write.Exec("ANALYZE"); err != nil {
			b.Fatal(err)
		}
		for _, at := range []int64{1, 2500, 5000} {
			b.Run(fmt.Sprintf("%s/Pieces%d", k.name, at), func(b *testing.B) {
				for b.Loop() {
					view(b, s, func(x api.Tx) error {
						pieces, err := x.Pieces(at)
						if len(pieces) != 901 {
							b.Errorf("%d pieces", len(pieces))
						}
						return err
					})
				}
			})
		}
		b.Run(k.name+"/AddRevision", func(b *testing.B) {
			for b.Loop() {
				update(b, s, func(x api.Tx) error {
					head, err := x.Head()
					if err != nil {
						return err
					}
					return x.AddRevision(revision(head+1), []plant.PieceChange{to("trucks/T-0001", fmt.Sprint(head)), to("trucks/T-0002", "x")})
				})
			}
		})
		b.Run(k.name+"/Check", func(b *testing.B) {
			for b.Loop() {
				if err := s.Check(b.Context()); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
