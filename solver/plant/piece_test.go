package plant

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// pieced returns the plant that comes back from its pieces.
func pieced(t *testing.T, p *Plant) *Plant {
	t.Helper()
	text, err := Join(Split(p))
	if err != nil {
		t.Fatal(err)
	}
	back, faults := Read("pieces", text)
	if len(faults) > 0 {
		t.Fatalf("%v\n%s", faults[0], text)
	}
	return back
}

func TestPieces_RoundTrip(t *testing.T) {
	unplanned := *readSmall(t)
	unplanned.Plan = nil
	nasty := *readSmall(t)
	nasty.Customers = slices.Clone(nasty.Customers)
	for i, w := range words {
		if strings.Contains(w, "\t") {
			continue // no text that a file can hold
		}
		c := nasty.Customers[0]
		c.ID, c.Name = fmt.Sprintf("C/%d/ 1.%d", i, i), w
		nasty.Customers = append(nasty.Customers, c)
	}
	plans := *readSmall(t)
	plans.Plan = &Plan{Revision: 1, Plant: plans.Name, Made: plans.AsOf, Status: Feasible}
	for name, p := range map[string]*Plant{"small": readSmall(t), "without plan": &unplanned, "names": &nasty, "empty plan": &plans} {
		if diff := cmp.Diff(p, pieced(t, p)); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
		list := Split(p)
		if !slices.IsSortedFunc(list, func(a, b Piece) int { return strings.Compare(a.Key, b.Key) }) {
			t.Errorf("%s: pieces are not sorted", name)
		}
		if d := Diff(list, Split(p)); len(d) > 0 {
			t.Errorf("%s differs from itself: %v", name, d)
		}
	}
}

// A change of one noun is a change of one piece.
// With the standard lists spelled out, a plant is the same.
func TestPieces_Whole(t *testing.T) {
	p := *readSmall(t)
	p.Measures = DefaultMeasures()
	whole := SplitWhole(&p)
	text, err := Join(whole)
	if err != nil {
		t.Fatal(err)
	}
	back, faults := Read("pieces", text)
	if len(faults) > 0 {
		t.Fatal(faults[0])
	}
	if diff := cmp.Diff(&p, back); diff != "" {
		t.Error(diff)
	}
	if added := Diff(Split(&p), whole); len(added) < len(p.Measures) {
		t.Errorf("only %d pieces more", len(added))
	}
}

func TestPieces_Diff(t *testing.T) {
	p := readSmall(t)
	before := Split(p)
	q := *p
	q.Trucks = slices.Clone(p.Trucks)
	q.Trucks[1].Contract.DamagesPerDay += 50
	q.Visits = slices.Clone(p.Visits[1:])
	d := Diff(before, Split(&q))
	var keys []string
	for _, c := range d {
		kind := "changed"
		switch "" {
		case c.Before:
			kind = "new"
		case c.After:
			kind = "gone"
		}
		keys = append(keys, fmt.Sprint(c.Key, " ", kind))
	}
	want := []string{"trucks/" + p.Trucks[1].ID + " changed", "visits changed", "visits/" + p.Visits[0].ID + " gone"}
	if diff := cmp.Diff(want, keys); diff != "" {
		t.Error(diff)
	}
}

func TestJoin_Torn(t *testing.T) {
	whole := Split(readSmall(t))
	without := func(key string) []Piece {
		at := slices.IndexFunc(whole, func(p Piece) bool { return p.Key == key })
		if at < 0 {
			t.Fatalf("no piece %s", key)
		}
		return slices.Delete(slices.Clone(whole), at, at+1)
	}
	truck := "trucks/" + readSmall(t).Trucks[0].ID
	extra := slices.Insert(slices.Clone(whole), slices.IndexFunc(whole, func(p Piece) bool { return p.Key == truck }), Piece{Key: "trucks/-", Text: "{}"})
	for name, c := range map[string]struct {
		pieces []Piece
		say    string
	}{
		"a truck is missing":  {without(truck), "there is no piece " + truck},
		"the order is":        {without("trucks"), "the order of its list is missing"},
		"one more than named": {extra, "there are"},
	} {
		if _, err := Join(c.pieces); err == nil || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%s: %v, want %q in it", name, err, c.say)
		}
	}
}
