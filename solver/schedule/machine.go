package schedule

import (
	"context"
	"slices"

	"wetdown/solver/cnf"
	"wetdown/solver/sat"
)

// A family is a group of machines that share tasks, directly or through others,
// and the tasks that stand on them.
type family struct {
	machines []int
	tasks    []int
	sets     [][]int // the machine sets that tasks are confined to, and the whole
}

// families groups the machines. Everything is in ascending order.
func families(p *Problem) []family {
	root := make([]int, len(p.Machines))
	for m := range root {
		root[m] = m
	}
	var find func(m int) int
	find = func(m int) int {
		if root[m] != m {
			root[m] = find(root[m])
		}
		return root[m]
	}
	for i := range p.Tasks {
		for _, m := range p.Tasks[i].Able {
			a, b := find(p.Tasks[i].Able[0]), find(m)
			root[max(a, b)] = min(a, b)
		}
	}
	var fs []family
	of := map[int]int{}
	for m := range p.Machines {
		r := find(m)
		n, ok := of[r]
		if !ok {
			n = len(fs)
			of[r] = n
			fs = append(fs, family{})
		}
		fs[n].machines = append(fs[n].machines, m)
	}
	for i := range p.Tasks {
		able := p.Tasks[i].Able
		if len(able) == 0 {
			continue
		}
		f := &fs[of[find(able[0])]]
		f.tasks = append(f.tasks, i)
		if !slices.ContainsFunc(f.sets, func(s []int) bool { return slices.Equal(s, able) }) {
			f.sets = append(f.sets, able)
		}
	}
	for n := range fs {
		f := &fs[n]
		if len(f.tasks) > 0 && !slices.ContainsFunc(f.sets, func(s []int) bool { return len(s) == len(f.machines) }) {
			f.sets = append(f.sets, f.machines)
		}
		slices.SortFunc(f.sets, slices.Compare)
	}
	return fs
}

// within reports whether every element of x is in set; both ascend.
func within(x, set []int) bool {
	for _, m := range x {
		if _, ok := slices.BinarySearch(set, m); !ok {
			return false
		}
	}
	return true
}

// openMachines counts the machines of the set that are open in slot t.
func (p *Problem) openMachines(set []int, t Slot) (n int32) {
	for _, m := range set {
		open := true
		for _, c := range p.Machines[m].Closed {
			if c.From <= t && t < c.To {
				open = false
			}
		}
		if open {
			n++
		}
	}
	return n
}

// name gives every placed task of the family a machine, keeping as many of the
// preferred ones as it can. It returns false when the starts admit no naming.
func (f *family) name(p *Problem, start []int, prefer []int, machine []int) bool {
	s := sat.New(len(f.tasks)*len(f.machines), 0)
	on := make([][]sat.Lit, len(f.tasks))
	var placed []int
	var wish []sat.Lit
	for n, i := range f.tasks {
		if start[i] < 0 {
			continue
		}
		placed = append(placed, n)
		t := &p.Tasks[i]
		for _, m := range t.Able {
			l := s.Lit()
			on[n] = append(on[n], l)
			for _, c := range p.Machines[m].Closed {
				if c.From < t.Ends[start[i]] && t.Starts[start[i]] < c.To {
					s.Add(-l)
				}
			}
			if prefer != nil && prefer[i] == m {
				wish = append(wish, l)
			}
		}
		s.Add(on[n]...)
		cnf.AtMostOne(s, on[n])
	}
	begin := func(n int) Slot { return p.Tasks[f.tasks[n]].Starts[start[f.tasks[n]]] }
	end := func(n int) Slot { return p.Tasks[f.tasks[n]].Ends[start[f.tasks[n]]] }
	slices.SortStableFunc(placed, func(x, y int) int { return int(begin(x) - begin(y)) })
	for j, x := range placed {
		for _, y := range placed[j+1:] {
			if begin(y) >= end(x) {
				break
			}
			for a, m := range p.Tasks[f.tasks[x]].Able {
				if b := slices.Index(p.Tasks[f.tasks[y]].Able, m); b >= 0 && begin(y) < end(y) {
					s.Add(-on[x][a], -on[y][b])
				}
			}
		}
	}
	for {
		if s.Solve(context.Background(), wish) == sat.Sat {
			break
		}
		core := s.Core()
		if len(core) == 0 {
			return false
		}
		wish = slices.DeleteFunc(wish, func(l sat.Lit) bool { return slices.Contains(core, l) })
	}
	for _, n := range placed {
		i := f.tasks[n]
		for a, m := range p.Tasks[i].Able {
			if s.Value(on[n][a]) {
				machine[i] = m
			}
		}
	}
	return true
}
