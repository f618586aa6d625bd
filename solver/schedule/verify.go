package schedule

import "fmt"

// Verify says what an answer costs in each tier and what is wrong with it, from
// the definitions of Problem alone. An answer that obeys everything has no
// faults.
func Verify(p *Problem, a *Answer) (values []int64, faults []string) {
	bad := func(format string, args ...any) { faults = append(faults, fmt.Sprintf(format, args...)) }
	if len(a.Start) != len(p.Tasks) || len(a.Machine) != len(p.Tasks) {
		bad("%d starts and %d machines for %d tasks", len(a.Start), len(a.Machine), len(p.Tasks))
		return nil, faults
	}
	on := func(i int) bool { return a.Start[i] >= 0 }
	start := func(i int) Slot { return p.Tasks[i].Starts[a.Start[i]] }
	end := func(i int) Slot { return p.Tasks[i].Ends[a.Start[i]] }

	for i := range p.Tasks {
		t := &p.Tasks[i]
		switch {
		case a.Start[i] >= len(t.Starts) || a.Start[i] < -1:
			bad("%s has no start %d", t.Name, a.Start[i])
			return nil, faults
		case !on(i) && !t.Skip:
			bad("%s is left out", t.Name)
		case on(i) && len(t.Able) > 0:
			able := false
			for _, m := range t.Able {
				able = able || m == a.Machine[i]
			}
			if !able {
				bad("%s stands on machine %d, not one of %v", t.Name, a.Machine[i], t.Able)
			}
		case a.Machine[i] != -1:
			bad("%s stands on machine %d but is out or needs none", t.Name, a.Machine[i])
		}
	}
	for _, c := range p.Arcs {
		if !on(c.From) || !on(c.To) {
			continue
		}
		if k := a.Start[c.From]; c.Earliest != nil && start(c.To) < c.Earliest[k] {
			bad("%s starts at %d, before %d after %s", p.Tasks[c.To].Name, start(c.To), c.Earliest[k], p.Tasks[c.From].Name)
		} else if c.Latest != nil && start(c.To) > c.Latest[k] {
			bad("%s starts at %d, later than %d after %s", p.Tasks[c.To].Name, start(c.To), c.Latest[k], p.Tasks[c.From].Name)
		}
	}
	for _, pair := range p.Together {
		if on(pair[0]) != on(pair[1]) {
			bad("one of %s and %s is left out", p.Tasks[pair[0]].Name, p.Tasks[pair[1]].Name)
		}
	}
	for _, r := range p.Resources {
		load := make([]int32, p.Slots)
		for _, u := range r.Uses {
			if !on(u.Task) {
				continue
			}
			for t := u.from(&p.Tasks[u.Task], a.Start[u.Task]); t < end(u.Task); t++ {
				if u.On == nil || u.On[t] {
					load[t] += u.Need
				}
			}
		}
		for t, l := range load {
			if l > r.Capacity[t] {
				bad("%s: %d needed of %d at slot %d", r.Name, l, r.Capacity[t], t)
			}
		}
	}
	holder := make([][]int, len(p.Machines))
	for m := range holder {
		holder[m] = make([]int, p.Slots) // task + 1
		for _, c := range p.Machines[m].Closed {
			for t := max(0, c.From); t < min(c.To, p.Slots); t++ {
				holder[m][t] = -1
			}
		}
	}
	for i := range p.Tasks {
		m := a.Machine[i]
		if !on(i) || m < 0 || m >= len(p.Machines) {
			continue
		}
		for t := start(i); t < end(i); t++ {
			if h := holder[m][t]; h != 0 {
				bad("%s is on %s at slot %d, which is closed or taken", p.Tasks[i].Name, p.Machines[m].Name, t)
				break
			}
			holder[m][t] = i + 1
		}
	}
	for _, t := range p.Tiers {
		values = append(values, t.value(a))
	}
	return values, faults
}

// from is the first slot of the use when the task starts at its k-th start.
func (u *Use) from(t *Task, k int) Slot {
	if u.From != nil {
		return u.From[k]
	}
	return t.Starts[k]
}

// values is what the answer costs, by tier.
func (p *Problem) values(a *Answer) []int64 {
	values := make([]int64, len(p.Tiers))
	for t := range p.Tiers {
		values[t] = p.Tiers[t].value(a)
	}
	return values
}

// value is what the answer costs in the tier.
func (t *Tier) value(a *Answer) (v int64) {
	for _, c := range t.Costs {
		if k := a.Start[c.Task]; k >= 0 {
			v += c.At[k]
		} else {
			v += c.Skip
		}
	}
	for n := range t.Gaps {
		g := &t.Gaps[n]
		if from, to := a.Start[g.From], a.Start[g.To]; from >= 0 && to >= 0 {
			v += g.of(from, to)
		}
	}
	return v
}

// of is what the gap costs between two starts.
func (g *Gap) of(from, to int) int64 {
	return g.Weight * int64(min(g.Cap, max(0, g.ToDay[to]-g.FromDay[from]-g.Free)))
}

// compare orders two value lists: negative when x is better.
func compare(x, y []int64) int {
	for i := range x {
		switch {
		case x[i] < y[i]:
			return -1
		case x[i] > y[i]:
			return 1
		}
	}
	return 0
}
