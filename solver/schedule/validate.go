package schedule

import (
	"fmt"
	"slices"
)

// Validate reports the first thing that makes p no question at all: a list of
// the wrong length, an index out of range, an order that is not kept. A problem
// that Solve gets must be valid; a valid problem may still have no answer.
func (p *Problem) Validate() error {
	for i := range p.Tasks {
		t := &p.Tasks[i]
		if len(t.Starts) == 0 && !t.Skip || len(t.Ends) != len(t.Starts) {
			return fmt.Errorf("task %d (%s): %d starts and %d ends: give as many, at least one unless it may be left out", i, t.Name, len(t.Starts), len(t.Ends))
		}
		for k, s := range t.Starts {
			if s < 0 || t.Ends[k] < s || t.Ends[k] > p.Slots || s > p.Slots {
				return fmt.Errorf("task %d (%s): [%d, %d) is not within [0, %d)", i, t.Name, s, t.Ends[k], p.Slots)
			}
			if k > 0 && (s <= t.Starts[k-1] || t.Ends[k] < t.Ends[k-1]) {
				return fmt.Errorf("task %d (%s): start %d is out of order", i, t.Name, k)
			}
		}
		for n, m := range t.Able {
			if m < 0 || m >= len(p.Machines) || n > 0 && m <= t.Able[n-1] {
				return fmt.Errorf("task %d (%s): machine list %v is not ascending within %d machines", i, t.Name, t.Able, len(p.Machines))
			}
		}
	}
	task := func(what string, n, i int) error {
		if i < 0 || i >= len(p.Tasks) {
			return fmt.Errorf("%s %d: no task %d", what, n, i)
		}
		return nil
	}
	for n, a := range p.Arcs {
		if err := task("arc", n, a.From); err != nil {
			return err
		}
		if err := task("arc", n, a.To); err != nil {
			return err
		}
		for _, l := range [][]Slot{a.Earliest, a.Latest} {
			if l != nil && (len(l) != len(p.Tasks[a.From].Starts) || !slices.IsSorted(l)) {
				return fmt.Errorf("arc %d (%s to %s): its bounds are not one per start, never descending", n, p.Tasks[a.From].Name, p.Tasks[a.To].Name)
			}
		}
	}
	for n, pair := range p.Together {
		for _, i := range pair {
			if err := task("pair", n, i); err != nil {
				return err
			}
			if !p.Tasks[i].Skip {
				return fmt.Errorf("pair %d: %s may not be left out", n, p.Tasks[i].Name)
			}
		}
	}
	for n, r := range p.Resources {
		if len(r.Capacity) != int(p.Slots) {
			return fmt.Errorf("resource %d (%s): %d capacities for %d slots", n, r.Name, len(r.Capacity), p.Slots)
		}
		used := map[int]bool{}
		for _, u := range r.Uses {
			if err := task("use of resource", n, u.Task); err != nil {
				return err
			}
			if used[u.Task] {
				return fmt.Errorf("resource %d (%s): %s uses it twice: add the needs up", n, r.Name, p.Tasks[u.Task].Name)
			}
			used[u.Task] = true
			if u.From != nil && (len(u.From) != len(p.Tasks[u.Task].Starts) || !slices.IsSorted(u.From)) {
				return fmt.Errorf("resource %d (%s): a use does not begin once per start of %s, never descending", n, r.Name, p.Tasks[u.Task].Name)
			}
			if u.Need < 0 || u.On != nil && len(u.On) != int(p.Slots) {
				return fmt.Errorf("resource %d (%s): a use needs %d with %d marks", n, r.Name, u.Need, len(u.On))
			}
		}
	}
	for n, t := range p.Tiers {
		for _, c := range t.Costs {
			if err := task("cost in tier", n, c.Task); err != nil {
				return err
			}
			if len(c.At) != len(p.Tasks[c.Task].Starts) || c.Skip < 0 || slices.ContainsFunc(c.At, func(v int64) bool { return v < 0 }) {
				return fmt.Errorf("tier %s: the cost of %s is not one per start, none negative", t.Name, p.Tasks[c.Task].Name)
			}
		}
		for _, g := range t.Gaps {
			if err := task("gap in tier", n, g.From); err != nil {
				return err
			}
			if err := task("gap in tier", n, g.To); err != nil {
				return err
			}
			if len(g.FromDay) != len(p.Tasks[g.From].Starts) || len(g.ToDay) != len(p.Tasks[g.To].Starts) ||
				!slices.IsSorted(g.FromDay) || !slices.IsSorted(g.ToDay) || g.Weight < 0 || g.Cap < 0 {
				return fmt.Errorf("tier %s: the gap from %s to %s is not well formed", t.Name, p.Tasks[g.From].Name, p.Tasks[g.To].Name)
			}
		}
	}
	return nil
}
