package schedule

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
)

// changes are ways in which one problem may be another: each changes one thing, for the
// harder or for the easier.
var changes = []struct {
	name   string
	harder bool
	change func(p *Problem, r *rand.Rand) bool // false: there is nothing to change
}{
	{"a start less", true, func(p *Problem, r *rand.Rand) bool {
		i := r.IntN(len(p.Tasks))
		t := &p.Tasks[i]
		if len(t.Starts) < 2 {
			return false
		}
		drop(p, i, r.IntN(len(t.Starts)))
		return true
	}},
	{"the last start lasts longer", true, func(p *Problem, r *rand.Rand) bool {
		t := &p.Tasks[r.IntN(len(p.Tasks))]
		k := len(t.Ends) - 1
		if t.Ends[k] == p.Slots {
			return false
		}
		t.Ends[k]++
		return true
	}},
	{"the first start ends sooner", false, func(p *Problem, r *rand.Rand) bool {
		t := &p.Tasks[r.IntN(len(p.Tasks))]
		if t.Ends[0] == t.Starts[0]+1 {
			return false
		}
		t.Ends[0]--
		return true
	}},
	{"may not be left out", true, func(p *Problem, r *rand.Rand) bool {
		t := &p.Tasks[r.IntN(len(p.Tasks))]
		was := t.Skip
		t.Skip = false
		return was && len(p.Together) == 0
	}},
	{"may be left out", false, func(p *Problem, r *rand.Rand) bool {
		t := &p.Tasks[r.IntN(len(p.Tasks))]
		was := t.Skip
		t.Skip = true
		return !was
	}},
	{"a machine less to stand on", true, func(p *Problem, r *rand.Rand) bool {
		t := &p.Tasks[r.IntN(len(p.Tasks))]
		if len(t.Able) < 2 {
			return false
		}
		t.Able = t.Able[1:]
		return true
	}},
	{"a machine closed", true, func(p *Problem, r *rand.Rand) bool {
		p.Machines[r.IntN(len(p.Machines))].Closed = []Interval{{0, p.Slots}}
		return true
	}},
	{"a machine opened", false, func(p *Problem, r *rand.Rand) bool {
		m := &p.Machines[r.IntN(len(p.Machines))]
		was := len(m.Closed)
		m.Closed = nil
		return was > 0
	}},
	{"less room", true, func(p *Problem, r *rand.Rand) bool {
		if len(p.Resources) == 0 {
			return false
		}
		c := p.Resources[r.IntN(len(p.Resources))].Capacity
		t := r.IntN(len(c))
		c[t]--
		return true
	}},
	{"more room", false, func(p *Problem, r *rand.Rand) bool {
		if len(p.Resources) == 0 {
			return false
		}
		c := p.Resources[r.IntN(len(p.Resources))].Capacity
		c[r.IntN(len(c))]++
		return true
	}},
	{"a greater need", true, func(p *Problem, r *rand.Rand) bool {
		if len(p.Resources) == 0 || len(p.Resources[0].Uses) == 0 {
			return false
		}
		p.Resources[0].Uses[0].Need++
		return true
	}},
	{"needed in a slot less, in which there is room for all", true, func(p *Problem, r *rand.Rand) bool {
		c := &p.Resources[0]
		var all int32
		for _, u := range c.Uses {
			all += u.Need
		}
		for t, room := range c.Capacity {
			if len(c.Uses) == 0 || room < all || c.Uses[0].On != nil && !c.Uses[0].On[t] {
				continue
			}
			on := slices.Clone(c.Uses[0].On)
			if on == nil {
				on = slices.Repeat([]bool{true}, int(p.Slots))
			}
			on[t] = false
			c.Uses[0].On = on
			return true
		}
		return false
	}},
	{"earliest later", true, func(p *Problem, r *rand.Rand) bool {
		if len(p.Arcs) == 0 || p.Arcs[0].Earliest == nil {
			return false
		}
		e := p.Arcs[0].Earliest
		e[len(e)-1]++
		return true
	}},
	{"latest later", false, func(p *Problem, r *rand.Rand) bool {
		if len(p.Arcs) == 0 || p.Arcs[0].Latest == nil {
			return false
		}
		l := p.Arcs[0].Latest
		l[len(l)-1]++
		return true
	}},
	{"an arc without its bound", false, func(p *Problem, r *rand.Rand) bool {
		if len(p.Arcs) == 0 || p.Arcs[0].Latest == nil {
			return false
		}
		p.Arcs[0].Latest = nil
		return true
	}},
	{"a dearer start", true, func(p *Problem, r *rand.Rand) bool {
		for t := range p.Tiers {
			for c := range p.Tiers[t].Costs {
				at := p.Tiers[t].Costs[c].At
				at[r.IntN(len(at))]++
				return true
			}
		}
		return false
	}},
	{"a cheaper start", false, func(p *Problem, r *rand.Rand) bool {
		for t := range p.Tiers {
			for c := range p.Tiers[t].Costs {
				for k, v := range p.Tiers[t].Costs[c].At {
					if v > 0 {
						p.Tiers[t].Costs[c].At[k]--
						return true
					}
				}
			}
		}
		return false
	}},
	{"a cost gone", false, func(p *Problem, r *rand.Rand) bool {
		for t := range p.Tiers {
			for c, x := range p.Tiers[t].Costs {
				if slices.Max(x.At) > 0 {
					p.Tiers[t].Costs = slices.Delete(p.Tiers[t].Costs, c, c+1)
					return true
				}
			}
		}
		return false
	}},
	{"a dearer gap", true, func(p *Problem, r *rand.Rand) bool {
		for t := range p.Tiers {
			if len(p.Tiers[t].Gaps) > 0 {
				p.Tiers[t].Gaps[0].Weight++
				return true
			}
		}
		return false
	}},
}

// drop takes a start away from a task, everywhere.
func drop(p *Problem, i, k int) {
	cut := func(list []Slot) []Slot {
		if list == nil {
			return nil
		}
		return slices.Delete(list, k, k+1)
	}
	t := &p.Tasks[i]
	t.Starts, t.Ends = cut(t.Starts), cut(t.Ends)
	for n := range p.Arcs {
		if a := &p.Arcs[n]; a.From == i {
			a.Earliest, a.Latest = cut(a.Earliest), cut(a.Latest)
		}
	}
	for r := range p.Resources {
		for n := range p.Resources[r].Uses {
			if u := &p.Resources[r].Uses[n]; u.Task == i {
				u.From = cut(u.From)
			}
		}
	}
	for n := range p.Tiers {
		for c := range p.Tiers[n].Costs {
			if x := &p.Tiers[n].Costs[c]; x.Task == i {
				x.At = slices.Delete(x.At, k, k+1)
			}
		}
		for g := range p.Tiers[n].Gaps {
			x := &p.Tiers[n].Gaps[g]
			if x.From == i {
				x.FromDay = cut(x.FromDay)
			}
			if x.To == i {
				x.ToDay = cut(x.ToDay)
			}
		}
	}
}

// sound holds every answer of hard against easy, one by one.
func sound(t *testing.T, name string, easy, hard *Problem) {
	t.Helper()
	enumerate(hard, func(a *Answer) {
		values, faults := Verify(hard, a)
		if len(faults) > 0 || t.Failed() {
			return
		}
		b := &Answer{slices.Clone(a.Start), a.Machine}
		for i, k := range a.Start {
			if k >= 0 {
				b.Start[i] = slices.Index(easy.Tasks[i].Starts, hard.Tasks[i].Starts[k])
			}
		}
		less, faults := Verify(easy, b)
		if len(faults) > 0 {
			t.Errorf("%s is called harder, and %v is no answer of the easier one: %v", name, b, faults)
			return
		}
		for n := range values {
			if less[n] > values[n] {
				t.Errorf("%s is called harder, and its answer %v costs %v, in the easier one %v", name, b, values, less)
				return
			}
		}
	})
}

// ways is how many ways there are to place all tasks.
func ways(p *Problem) int {
	n := 1
	for _, t := range p.Tasks {
		of := len(t.Starts) * max(1, len(t.Able))
		if t.Skip {
			of++
		}
		n *= of
	}
	return n
}

// TestHarder_Enumerated changes tiny problems in one way or two, asks both ways round, and
// holds every "harder" against all answers. What is made harder by one change must be
// seen to be; what is made easier by one must never be called harder if an
// answer says otherwise.
func TestHarder_Enumerated(t *testing.T) {
	const seeds = 150
	seen := map[string]int{}
	for n, c := range changes {
		for seed := range uint64(seeds) {
			r := rand.New(rand.NewPCG(seed, uint64(n)))
			easy, hard := tiny(seed), tiny(seed)
			if ways(easy) > 2000 || !c.change(hard, r) {
				continue
			}
			if !c.harder {
				easy, hard = hard, easy
			}
			name := fmt.Sprintf("seed %d with %s", seed, c.name)
			if Harder(easy, hard) {
				seen[c.name]++
				sound(t, name, easy, hard)
			} else {
				t.Errorf("%s: not seen to be harder", name)
			}
			if Harder(hard, easy) { // it may make no difference
				sound(t, name+", the other way round", hard, easy)
			}
			two, also := tiny(seed), tiny(seed)
			if changes[r.IntN(len(changes))].change(two, r) && changes[r.IntN(len(changes))].change(also, r) && Harder(two, also) {
				seen["two"]++
				sound(t, name+" and another", two, also)
			}
		}
		if seen[c.name] == 0 {
			t.Errorf("%s was never tried: this tests too little", c.name)
		}
	}
	if seen["two"] == 0 {
		t.Error("no two changed problems were compared: this tests too little")
	}
	for seed := range uint64(seeds) {
		if a, b := tiny(seed), tiny(seed); !Harder(a, b) {
			t.Errorf("seed %d: a problem is not called as hard as itself", seed)
		}
	}
}
