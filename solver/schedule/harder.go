package schedule

import "slices"

// Harder reports whether every answer of hard, read by the slots of its starts and the
// names of its machines, is an answer of easy that costs no more in any tier. So nothing that
// is best for hard can be better than what is best for easy. False says that this was not
// seen, and proves nothing: tasks, arcs and pools are compared one with one, in their order.
func Harder(easy, hard *Problem) bool {
	if hard.Slots != easy.Slots || len(hard.Tasks) != len(easy.Tasks) || len(hard.Arcs) != len(easy.Arcs) ||
		len(hard.Resources) != len(easy.Resources) || len(hard.Machines) > len(easy.Machines) || len(hard.Tiers) != len(easy.Tiers) ||
		!slices.Equal(hard.Together, easy.Together) {
		return false
	}
	h := &harder{easy: easy, hard: hard, at: make([][]int, len(hard.Tasks))}
	for _, m := range hard.Machines {
		h.on = append(h.on, slices.IndexFunc(easy.Machines, func(x Machine) bool { return x.Name == m.Name }))
	}
	for i := range hard.Tasks {
		if !h.task(i) {
			return false
		}
	}
	for m := range hard.Machines {
		if !h.machine(m) {
			return false
		}
	}
	for n := range hard.Arcs {
		if !h.arc(n) {
			return false
		}
	}
	for r := range hard.Resources {
		if !h.pool(r) {
			return false
		}
	}
	for t := range hard.Tiers {
		if !h.tier(t) {
			return false
		}
	}
	return true
}

// harder compares two problems.
type harder struct {
	easy, hard *Problem
	at         [][]int // by task and start of hard: the start of easy in the same slot
	on         []int   // by machine of hard: that of easy, -1 for none
}

// task: the same starts or fewer, that last as long or longer, on the same machines or
// fewer.
func (h *harder) task(i int) bool {
	a, b := &h.easy.Tasks[i], &h.hard.Tasks[i]
	if a.Name != b.Name || b.Skip && !a.Skip || (len(a.Able) == 0) != (len(b.Able) == 0) {
		return false
	}
	for _, m := range b.Able {
		if !slices.Contains(a.Able, h.on[m]) {
			return false
		}
	}
	h.at[i] = make([]int, len(b.Starts))
	n := 0
	for k, s := range b.Starts {
		for n < len(a.Starts) && a.Starts[n] < s {
			n++
		}
		if n == len(a.Starts) || a.Starts[n] != s || b.Ends[k] < a.Ends[n] {
			return false
		}
		h.at[i][k] = n
	}
	return true
}

// machine: closed at least as long.
func (h *harder) machine(m int) bool {
	if h.on[m] < 0 {
		return false
	}
	a, b := &h.easy.Machines[h.on[m]], &h.hard.Machines[m]
	return !slices.ContainsFunc(a.Closed, func(x Interval) bool {
		for t := x.From; t < x.To; t++ {
			if !slices.ContainsFunc(b.Closed, func(y Interval) bool { return y.From <= t && t < y.To }) {
				return true
			}
		}
		return false
	})
}

// arc: binds at least as much.
func (h *harder) arc(n int) bool {
	a, b := &h.easy.Arcs[n], &h.hard.Arcs[n]
	if a.From != b.From || a.To != b.To || a.Earliest != nil && b.Earliest == nil || a.Latest != nil && b.Latest == nil {
		return false
	}
	for k, at := range h.at[a.From] {
		if a.Earliest != nil && b.Earliest[k] < a.Earliest[at] || a.Latest != nil && b.Latest[k] > a.Latest[at] {
			return false
		}
	}
	return true
}

// pool: no more room, and nobody needs less of it or for less time, but where there is
// room for all in easy.
func (h *harder) pool(r int) bool {
	a, b := &h.easy.Resources[r], &h.hard.Resources[r]
	if a.Name != b.Name || len(a.Uses) != len(b.Uses) {
		return false
	}
	var all int32
	for n := range a.Uses {
		all += a.Uses[n].Need
	}
	for t := range b.Capacity {
		if b.Capacity[t] > a.Capacity[t] {
			return false
		}
	}
	for n := range b.Uses {
		u, v := &a.Uses[n], &b.Uses[n]
		if u.Task != v.Task || v.Need < u.Need || !covers(v.On, u.On, a.Capacity, all) {
			return false
		}
		for k, at := range h.at[u.Task] {
			if v.from(&h.hard.Tasks[v.Task], k) > u.from(&h.easy.Tasks[u.Task], at) {
				return false
			}
		}
	}
	return true
}

// covers reports whether on holds wherever less does, slots with room for all aside.
func covers(on, less []bool, room []int32, all int32) bool {
	if on == nil || len(on) > 0 && len(less) == len(on) && &on[0] == &less[0] {
		return true
	}
	for t := range on {
		if !on[t] && (less == nil || less[t]) && room[t] < all {
			return false
		}
	}
	return true
}

// tier: no start costs less.
func (h *harder) tier(t int) bool {
	a, b := &h.easy.Tiers[t], &h.hard.Tiers[t]
	least := make(map[int][]int64, len(a.Costs)) // by task: what it costs in easy at the starts of hard, and left out
	for _, c := range a.Costs {
		list := least[c.Task]
		if list == nil {
			list = make([]int64, len(h.at[c.Task])+1)
			least[c.Task] = list
		}
		for k, at := range h.at[c.Task] {
			list[k] += c.At[at]
		}
		list[len(list)-1] += c.Skip
	}
	for _, c := range b.Costs {
		if list := least[c.Task]; list != nil {
			for k, v := range c.At {
				list[k] -= v
			}
			list[len(list)-1] -= c.Skip
		}
	}
	for _, c := range a.Costs {
		list := least[c.Task]
		if left := len(list) - 1; slices.ContainsFunc(list[:left], func(v int64) bool { return v > 0 }) || h.hard.Tasks[c.Task].Skip && list[left] > 0 {
			return false
		}
	}
	if len(a.Gaps) != len(b.Gaps) {
		return false
	}
	for n := range a.Gaps {
		if !h.gap(&a.Gaps[n], &b.Gaps[n]) {
			return false
		}
	}
	return true
}

// gap: counted from no later a day to no earlier one, and no cheaper.
func (h *harder) gap(a, b *Gap) bool {
	if a.From != b.From || a.To != b.To || b.Free > a.Free || b.Cap < a.Cap || b.Weight < a.Weight {
		return false
	}
	for k, at := range h.at[a.From] {
		if b.FromDay[k] > a.FromDay[at] {
			return false
		}
	}
	for k, at := range h.at[a.To] {
		if b.ToDay[k] < a.ToDay[at] {
			return false
		}
	}
	return true
}
