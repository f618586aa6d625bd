package schedule

import (
	"context"
	"fmt"
	"math/bits"
	"math/rand/v2"
	"testing"
)

// TestDispute_Least draws small disputes and tries every subset of their grounds on
// every placing of their tasks: what Find returns must be impossible, possible without any one of it,
// and no lighter set may be impossible.
func TestDispute_Least(t *testing.T) {
	found, several := 0, 0
	for seed := range uint64(250) {
		r := rand.New(rand.NewPCG(seed, 1))
		const tasks, slots, starts = 4, 12, 7
		p := &Problem{Slots: slots}
		for i := range tasks {
			task := Task{Name: fmt.Sprint(i), Job: i}
			length := Slot(1 + r.IntN(3))
			for k := range Slot(starts) {
				task.Starts, task.Ends = append(task.Starts, k), append(task.Ends, k+length)
			}
			p.Tasks = append(p.Tasks, task)
		}
		const grounds = 8
		d := &Dispute{Problem: p, Grounds: grounds, Job: 0, Rooms: func([]bool) ([]Machine, [][]int) { return nil, make([][]int, tasks) }}
		for s := range slots {
			d.Period = append(d.Period, s/4)
		}
		weight, rank := make([]int64, grounds), make([]int, grounds)
		for n := range grounds {
			weight[n], rank[n] = int64(1+r.IntN(9)), r.IntN(2)
			term := Term{Grounds: []int{n}}
			if r.IntN(4) == 0 && n > 0 {
				term.Grounds = []int{r.IntN(n), n}
			}
			switch i := r.IntN(tasks); r.IntN(4) {
			case 0:
				lo := r.IntN(starts)
				term.Limit = &Limit{i, lo, min(starts-1, lo+r.IntN(3))}
			case 1:
				lo := r.IntN(starts)
				term.Ban = &Limit{0, lo, min(starts-1, lo+r.IntN(4))}
			case 2:
				arc := &Arc{From: i, To: (i + 1 + r.IntN(tasks-1)) % tasks}
				for k := range starts {
					arc.Earliest = append(arc.Earliest, p.Tasks[i].Ends[k]+Slot(k/4))
				}
				term.Arc = arc
			case 3:
				res := &Resource{Name: "r"}
				for range slots {
					res.Capacity = append(res.Capacity, int32(1+r.IntN(2)))
				}
				for j := range tasks {
					res.Uses = append(res.Uses, Use{Task: j, Need: 1})
				}
				term.Resource = res
			}
			d.Terms = append(d.Terms, term)
		}
		lo := r.IntN(starts)
		want := []Limit{{0, lo, min(starts-1, lo+r.IntN(2))}}
		// By brute force: the grounds that each placing breaks at the least.
		possible := make([]bool, 1<<grounds)
		for code := range 7 * 7 * 7 * 7 {
			start := []int{code % 7, code / 7 % 7, code / 49 % 7, code / 343}
			if start[0] < want[0].Lo || start[0] > want[0].Hi {
				continue
			}
			var broken [][]int
			for _, term := range d.Terms {
				if !term.holds(p, start) {
					broken = append(broken, term.Grounds)
				}
			}
			for set := range 1 << grounds {
				ok := true
				for _, g := range broken {
					all := true
					for _, n := range g {
						all = all && set&(1<<n) != 0
					}
					ok = ok && !all
				}
				possible[set] = possible[set] || ok
			}
		}
		if err := d.Open(); err != nil {
			t.Fatal(err)
		}
		f, err := d.Find(context.Background(), want, weight, rank, 1000)
		if err != nil {
			t.Fatal(err)
		}
		if (f == nil) != possible[1<<grounds-1] {
			t.Fatalf("seed %d: found %v, and possible with all grounds: %v", seed, f, possible[1<<grounds-1])
		}
		if f == nil {
			continue
		}
		found++
		sum := func(set int) (w int64) {
			for n := range weight {
				if set&(1<<n) != 0 {
					w += weight[n]
				}
			}
			return w
		}
		set := 0
		for _, n := range f.Grounds {
			set |= 1 << n
		}
		if bits.OnesCount(uint(set)) > 1 {
			several++
		}
		if possible[set] || !f.Sharp || !f.Least {
			t.Errorf("seed %d: %v is possible: %v; sharp %v, least %v", seed, f.Grounds, possible[set], f.Sharp, f.Least)
		}
		for n := range grounds {
			if set&(1<<n) != 0 && !possible[set&^(1<<n)] {
				t.Errorf("seed %d: %v is impossible without %d as well", seed, f.Grounds, n)
			}
		}
		for other := range possible {
			if !possible[other] && sum(other) < sum(set) {
				t.Errorf("seed %d: %v weighs %d, and %b, which is impossible as well, %d", seed, f.Grounds, sum(set), other, sum(other))
				break
			}
		}
	}
	t.Log(found, "disputes,", several, "of them with several grounds")
	if found < 100 || several < 40 {
		t.Error("this tests too little")
	}
}

// holds reports whether starts obey a term, from its meaning alone.
func (t Term) holds(p *Problem, start []int) bool {
	switch {
	case t.Limit != nil:
		return start[t.Limit.Task] >= t.Limit.Lo && start[t.Limit.Task] <= t.Limit.Hi
	case t.Ban != nil:
		return start[t.Ban.Task] < t.Ban.Lo || start[t.Ban.Task] > t.Ban.Hi
	case t.Arc != nil:
		return p.Tasks[t.Arc.To].Starts[start[t.Arc.To]] >= t.Arc.Earliest[start[t.Arc.From]]
	}
	for s := range p.Slots {
		load := int32(0)
		for _, u := range t.Resource.Uses {
			if k := start[u.Task]; p.Tasks[u.Task].Starts[k] <= s && s < p.Tasks[u.Task].Ends[k] {
				load += u.Need
			}
		}
		if load > t.Resource.Capacity[s] {
			return false
		}
	}
	return true
}
