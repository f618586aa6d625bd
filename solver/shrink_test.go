package solver

import (
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// complain looks at the plant of a specimen. If something is wrong with it, the smallest plant
// found with which something is wrong is kept in a file, which the complaint names. wrong must
// leave the plant as it is, and say "" of one with which nothing is.
func (s *specimen) complain(t testing.TB, what string, wrong func(p *plant.Plant) string) {
	t.Helper()
	first := wrong(s.p)
	if first == "" {
		return
	}
	small := shrunk(s.p, func(p *plant.Plant) bool { return len(p.Conditions(s.conditions)) == 0 && wrong(p) != "" })
	t.Errorf("%v, %s: %s\nA smaller plant with which something is wrong: %s\n%s", s, what, first, saved(t, small), wrong(small))
}

// saved writes a plant to a file that outlives the test.
func saved(t testing.TB, p *plant.Plant) (file string) {
	t.Helper()
	dir, err := os.MkdirTemp("", "wetdown-foreign-")
	if err != nil {
		t.Fatal(err)
	}
	file = filepath.Join(dir, "plant.yaml")
	if err := os.WriteFile(file, plant.Write(p), 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

// mostTries bounds how many smaller plants are looked at.
const mostTries = 5000

// shrunk is a plant without faults from which nothing more can be taken away so that it still
// fails, unless that takes too long: no truck with all that is said of it, no element of a list,
// no plan in force, no figure. p fails, and stays as it is.
func shrunk(p *plant.Plant, fails func(*plant.Plant) bool) *plant.Plant {
	least, tries := deep(p), 0
	if read, faults := plant.Read("plant", plant.Write(p)); len(faults) == 0 && fails(read) {
		least = read
	}
	smaller := func(change func(*plant.Plant)) bool {
		if tries++; tries > mostTries {
			return false
		}
		q := deep(least)
		change(q)
		q, faults := plant.Read("smaller", plant.Write(q)) // as a file can say it
		if len(faults) > 0 || reflect.DeepEqual(q, least) || !fails(q) {
			return false
		}
		least = q
		return true
	}
	for again := true; again; {
		again = false
		for i := len(least.Trucks) - 1; i >= 0; i-- {
			again = smaller(func(q *plant.Plant) { drop(q, q.Trucks[i].ID) }) || again
		}
		for _, at := range parts(reflect.ValueOf(least).Elem(), nil) {
			again = smaller(func(q *plant.Plant) { takeAway(reflect.ValueOf(q).Elem(), at) }) || again
		}
	}
	return least
}

// parts lists the ways down to every part of a plant that may be taken away, lists from their
// last element on: indices of fields and elements.
func parts(v reflect.Value, at []int) (list [][]int) {
	within := func(v reflect.Value, i int) { list = append(list, parts(v, append(slices.Clone(at), i))...) }
	switch v.Kind() {
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[plant.Standing]() || v.Type() == reflect.TypeFor[plant.Ready]() {
			list = append(list, at)
		}
		for i := range v.NumField() {
			within(v.Field(i), i)
		}
	case reflect.Slice:
		for i := v.Len() - 1; i >= 0; i-- {
			list = append(list, append(slices.Clone(at), i))
			within(v.Index(i), i)
		}
	case reflect.Array:
		for i := range v.Len() {
			within(v.Index(i), i)
		}
	case reflect.Pointer:
		if !v.IsNil() {
			list = append(list, at)
			within(v.Elem(), 0)
		}
	default:
		if !v.IsZero() && v.Type() != dateType && v.Type() != momentType {
			list = append(list, at)
		}
	}
	return list
}

// takeAway deletes an element of a list, or empties a value. What is not there any more is left
// alone.
func takeAway(v reflect.Value, at []int) {
	for n, i := range at {
		last := n == len(at)-1
		switch v.Kind() {
		case reflect.Struct:
			v = v.Field(i)
		case reflect.Pointer:
			if v.IsNil() {
				return
			}
			v = v.Elem()
		default:
			if i >= v.Len() {
				return
			}
			if last && v.Kind() == reflect.Slice {
				v.Set(reflect.AppendSlice(v.Slice(0, i), v.Slice(i+1, v.Len())))
				return
			}
			v = v.Index(i)
		}
	}
	v.SetZero()
}

// TestForeign_Shrink plants faults, and shrinks plants on which they show to what they are about.
func TestForeign_Shrink(t *testing.T) {
	t.Parallel()
	closures := func(p *plant.Plant) (n int) {
		for _, b := range p.Bays {
			n += len(b.Closures)
		}
		return n
	}
	forgetful := func(p *plant.Plant) bool { // a planner that does not know of closed bays
		if closures(p) == 0 {
			return false
		}
		q := deep(p)
		for i := range q.Bays {
			q.Bays[i].Closures = nil
		}
		a, err := least(p)
		b, other := least(q)
		return err == nil && other == nil && !slices.Equal(a, b)
	}
	for _, c := range []struct {
		name  string
		fails func(*plant.Plant) bool
		left  string // trucks, visits, closures of bays, rows of the plan
	}{
		{"a blackout of a tentative visit beside a closed bay", func(p *plant.Plant) bool {
			return closures(p) > 0 && slices.ContainsFunc(p.Visits, func(v plant.Visit) bool { return v.Booking.State == plant.Tentative && len(v.Blackouts) > 0 })
		}, "1 1 1 0"},
		{"two trucks of one customer", func(p *plant.Plant) bool {
			return slices.ContainsFunc(p.Trucks, func(a plant.Truck) bool {
				return slices.ContainsFunc(p.Trucks, func(b plant.Truck) bool { return a.ID != b.ID && a.Customer == b.Customer })
			})
		}, "2 0 0 0"},
		{"closed bays forgotten", forgetful, ""},
	} {
		found := 0
		for seed := uint64(0); found < 2; seed++ {
			s := specimenOf(t, seed)
			if !c.fails(s.p) {
				continue
			}
			found++
			whole := string(plant.Write(s.p))
			p := shrunk(s.p, c.fails)
			rows := 0
			if p.Plan != nil {
				rows = len(p.Plan.Stages)
			}
			left := fmt.Sprint(len(p.Trucks), len(p.Visits), closures(p), rows)
			t.Logf("%v, %s: %s left, %d bytes of %d", s, c.name, left, len(plant.Write(p)), len(whole))
			switch {
			case !c.fails(p) || len(plant.Validate(p)) > 0:
				t.Errorf("%v, %s: what is left does not fail, or has faults", s, c.name)
			case whole != string(plant.Write(s.p)):
				t.Errorf("%v, %s: the plant was changed", s, c.name)
			case c.left != "" && left != c.left:
				t.Errorf("%v, %s: %s left, want %s", s, c.name, left, c.left)
			case c.left == "" && (closures(p) != 1 || len(p.Trucks) > 2):
				t.Errorf("%v, %s: %s left\n%s", s, c.name, left, plant.Write(p))
			}
		}
	}
	if file := saved(t, &plant.Plant{Format: 1, Horizon: plant.Range{From: calendar.None, Through: calendar.None}}); filepath.Ext(file) != ".yaml" {
		t.Error(file)
	} else if err := os.RemoveAll(filepath.Dir(file)); err != nil {
		t.Error(err)
	}
}
