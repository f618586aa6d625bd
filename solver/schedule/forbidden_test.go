package schedule

import (
	"context"
	"math/bits"
	"math/rand/v2"
	"slices"
	"testing"
)

// little makes a random project small enough to enumerate: three to five tasks, some
// without length, one or two pools, and arcs that may let a task start before the one
// it follows has ended.
func little(seed uint64) *Problem {
	r := rand.New(rand.NewPCG(seed, 11))
	p := &Problem{Slots: 8, Tiers: []Tier{{Name: "end"}, {Name: "taste"}}}
	n := 3 + r.IntN(3)
	for i := range n {
		t := Task{Name: string(rune('a' + i)), Job: r.IntN(2)}
		length := Slot(r.IntN(4))
		for s := Slot(0); s+length <= p.Slots; s++ {
			if r.IntN(4) > 0 || len(t.Starts) == 0 {
				t.Starts, t.Ends = append(t.Starts, s), append(t.Ends, s+length)
			}
		}
		p.Tasks = append(p.Tasks, t)
	}
	for i := 1; i < n; i++ {
		if r.IntN(2) == 0 {
			continue
		}
		a := Arc{From: r.IntN(i), To: i}
		lag := Slot(r.IntN(3) - 1)
		for _, end := range p.Tasks[a.From].Ends {
			a.Earliest = append(a.Earliest, end+lag)
			a.Latest = append(a.Latest, end+4)
		}
		if r.IntN(4) > 0 {
			a.Latest = nil
		}
		p.Arcs = append(p.Arcs, a)
	}
	for range 1 + r.IntN(2) {
		pool := Resource{Name: "pool"}
		room := int32(2 + r.IntN(4))
		for range p.Slots {
			pool.Capacity = append(pool.Capacity, room)
		}
		for i := range n {
			if r.IntN(4) > 0 {
				pool.Uses = append(pool.Uses, Use{Task: i, Need: int32(r.IntN(4))})
			}
		}
		p.Resources = append(p.Resources, pool)
	}
	for i := range n {
		end, taste := Cost{Task: i}, Cost{Task: i}
		for _, e := range p.Tasks[i].Ends {
			end.At = append(end.At, int64(e))
			taste.At = append(taste.At, int64(r.IntN(3)))
		}
		if i >= n-2 {
			p.Tiers[0].Costs = append(p.Tiers[0].Costs, end)
		}
		p.Tiers[1].Costs = append(p.Tiers[1].Costs, taste)
	}
	return p
}

// TestSolve_Project compares projects with enumeration, and what forbidden sets say
// with what counters say.
func TestSolve_Project(t *testing.T) {
	answers, none := 0, 0
	for seed := range uint64(300) {
		p := little(seed)
		if err := p.Validate(); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if !p.project() {
			t.Fatalf("seed %d: no project", seed)
		}
		want := brute(p)
		for _, limit := range []int{0, 1} { // as it is, and too many sets to look for
			got, err := Solve(context.Background(), p, Options{walks: limit})
			switch {
			case err != nil:
				t.Fatalf("seed %d: %v", seed, err)
			case want == nil:
				none++
				if got.Status != Infeasible {
					t.Errorf("seed %d: status %v, want infeasible", seed, got.Status)
				}
			default:
				answers++
				if got.Status != Optimal || !slices.Equal(got.Values, want) {
					t.Errorf("seed %d: status %v values %v, want optimal %v", seed, got.Status, got.Values, want)
				}
			}
		}
	}
	if answers < 300 || none == 0 {
		t.Errorf("%d answers and %d without: the generator tests too little", answers, none)
	}
}

// A project that costs its makespan alone is proven from both sides: the values are
// those of enumeration.
func TestSolve_Makespan(t *testing.T) {
	searched := 0
	for seed := range uint64(1000) {
		p := little(seed)
		p.Tiers = p.Tiers[:1]
		p.Tiers[0].Costs = p.Tiers[0].Costs[1:]
		if p.makespan() == nil {
			t.Fatalf("seed %d: no makespan", seed)
		}
		want := brute(p)
		got, err := Solve(context.Background(), p, Options{})
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if want == nil {
			if got.Status != Infeasible {
				t.Errorf("seed %d: status %v, want infeasible", seed, got.Status)
			}
			continue
		}
		if got.Status != Optimal || !slices.Equal(got.Values, want) || !slices.Equal(got.Bounds, want) {
			t.Errorf("seed %d: status %v values %v bounds %v, want optimal %v", seed, got.Status, got.Values, got.Bounds, want)
		}
		if got.Counts.Calls > 0 {
			searched++
		}
	}
	if searched < 40 {
		t.Errorf("%d searches: the generator tests too little", searched)
	}
}

// TestForbidden compares with all subsets.
func TestForbidden(t *testing.T) {
	found := 0
	for seed := range uint64(300) {
		p := little(seed)
		n := len(p.Tasks)
		apart := make([][]bool, n)
		for i := range apart {
			apart[i] = make([]bool, n)
		}
		apart[0][n-1] = seed%2 == 0
		fits := func(set uint) bool {
			for _, r := range p.Resources {
				var sum int32
				for _, u := range r.Uses {
					if set>>u.Task&1 == 1 && p.Tasks[u.Task].Ends[0] > p.Tasks[u.Task].Starts[0] {
						sum += u.Need
					}
				}
				if sum > r.Capacity[0] {
					return false
				}
			}
			return true
		}
		var want [][]int
		for set := uint(1); set < 1<<n; set++ {
			ok := !fits(set) && !(apart[0][n-1] && set&1 == 1 && set>>(n-1)&1 == 1)
			for rest := set; rest != 0; rest &= rest - 1 {
				ok = ok && fits(set&^(1<<bits.TrailingZeros(rest)))
			}
			if ok {
				var s []int
				for i := range n {
					if set>>i&1 == 1 {
						s = append(s, i)
					}
				}
				want = append(want, s)
			}
		}
		slices.SortFunc(want, slices.Compare)
		got, few := p.forbidden(apart, walks)
		if !few || !slices.EqualFunc(got, want, slices.Equal) {
			t.Errorf("seed %d: forbidden %v, want %v", seed, got, want)
		}
		found += len(want)
	}
	if found < 150 {
		t.Errorf("%d sets in all: the generator is too roomy to test anything", found)
	}
}
