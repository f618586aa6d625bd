package solver

import (
	"cmp"
	"fmt"
	"slices"

	"wetdown/solver/check"
	"wetdown/solver/plant"
)

// quick looks for ways out that need not be the cheapest, so that something can be shown before
// anything is proven. It takes many measures at once: first all of those that can only help, then
// these without a kind that the way found needs, then with Saturdays, and with each flight later of a
// truck in danger. Of what works, measures are dropped that the plan found does not use, then as long
// as the others do. Every way has a plan that the judge passes, and is told to who watches.
func (s *search) quick() error {
	most := s.spent + s.budget/quickShare
	over := func() bool { return s.spent >= most || s.over() || len(s.drafts) >= alternatives }
	danger := s.only
	all := make([]int, len(s.actions))
	for a := range all {
		all[a] = a
	}
	but := func(set []int, kinds ...string) []int {
		return slices.DeleteFunc(slices.Clone(set), func(a int) bool { return slices.Contains(kinds, s.actions[a].Kind) })
	}
	saturdays := but(all, plant.FlyLater)
	plain := but(saturdays, plant.SaturdayShift) // these take nothing away
	pools := [][]int{plain, saturdays}
	for a := range s.actions {
		if s.actions[a].Kind == plant.FlyLater && danger[s.actions[a].Truck] {
			pools = append(pools, insert(plain, a))
		}
	}
	for n := 0; n < len(pools) && !over(); n++ {
		known := len(s.drafts)
		if err := s.draft(pools[n], over); err != nil {
			return err
		}
		if len(s.drafts) == known {
			continue
		}
		var kinds []string // without each of which it is tried next
		for _, a := range s.drafts[known].set {
			if k := s.actions[a].Kind; !slices.Contains(kinds, k) {
				kinds = append(kinds, k)
			}
		}
		next := n + 1
		for _, k := range kinds {
			if less := but(pools[n], k); !slices.ContainsFunc(pools, func(p []int) bool { return slices.Equal(p, less) }) {
				pools = slices.Insert(pools, next, less)
				next++
			}
		}
	}
	return nil
}

// quickShare is which part of the effort goes into ways that are not proven to be the
// cheapest.
const quickShare = 6

// A draft is a way out that is not proven to be the cheapest of its kind.
type draft struct {
	set  []int
	cost int64
}

// draft looks whether a set works, drops what is not needed, and notes the rest.
func (s *search) draft(set []int, over func() bool) error {
	works := func(set []int) (bool, error) {
		v, few, err := s.fail(set)
		if err != nil || v != helps {
			return false, err
		}
		v, err = s.works(set, few)
		return v == helps, err
	}
	if ok, err := works(set); !ok || err != nil {
		return err
	}
	var kinds []string // kind by kind; within each, the dearest are dropped first
	for _, a := range set {
		if k := s.actions[a].Kind; !slices.Contains(kinds, k) {
			kinds = append(kinds, k)
		}
	}
	var drop func(list []int, works func([]int) (bool, error)) error
	drop = func(list []int, works func([]int) (bool, error)) error {
		if len(list) == 0 || over() {
			return nil
		}
		less := slices.DeleteFunc(slices.Clone(set), func(a int) bool { return slices.Contains(list, a) })
		switch ok, err := works(less); {
		case err != nil:
			return err
		case ok:
			set = less
			return nil
		case len(list) == 1:
			return nil
		}
		if err := drop(list[:len(list)/2], works); err != nil {
			return err
		}
		return drop(list[len(list)/2:], works)
	}
	plan := s.plans[key(set)]
	unused := func(set []int) (bool, error) { return s.fits(set, plan), nil }
	for _, works := range []func([]int) (bool, error){unused, works} {
		for _, k := range kinds {
			var dear []int
			for _, a := range set {
				if s.actions[a].Kind == k {
					dear = append(dear, a)
				}
			}
			slices.SortStableFunc(dear, func(a, b int) int { return cmp.Compare(s.costs[b], s.costs[a]) })
			if err := drop(dear, works); err != nil {
				return err
			}
		}
		if s.plans[key(set)] == nil {
			s.known[key(set)], s.plans[key(set)] = helps, plan
		}
	}
	d := draft{set: set}
	for _, a := range set {
		d.cost += s.costs[a]
	}
	if len(set) == 0 || slices.ContainsFunc(s.drafts, func(o draft) bool { return slices.Equal(o.set, set) }) {
		return nil
	}
	s.drafts = append(s.drafts, d)
	if s.seek == nil {
		return nil
	}
	r, err := s.asFound(set)
	if err == nil {
		s.seek(Seeking{Asked: s.asked, Found: s.found, Proven: s.proven, Trying: r.Actions, Way: r})
	}
	return err
}

// fits reports whether a plan is right, and keeps the vows, with exactly these actions
// taken: by the judge alone, without a question.
func (s *search) fits(set []int, plan *plant.Plan) bool {
	actions := s.taken(set)
	p := Under(s.p.With(actions), s.conditions)
	return purseOf(s.p, s.vows, actions).within(p, plan) &&
		len(check.Plan(p, plan).Broken) == 0 &&
		len(check.Conditions(p, plan, append(under(s.p, summed(s.p, s.vows), actions), s.conditions...))) == 0
}

// asFound is a way out with the plan that was found for it, which may not be the best.
func (s *search) asFound(set []int) (*Repair, error) {
	actions, plan := s.taken(set), s.plans[key(set)]
	p := Under(s.p.With(actions), s.conditions)
	if v := check.Plan(p, plan); len(v.Broken) > 0 {
		return nil, fmt.Errorf("%w: %s (of a way out; and %d more)", ErrJudge, v.Broken[0].Sentence, len(v.Broken)-1)
	}
	shown := *plan
	shown.Status = plant.Feasible
	r, err := s.price(actions, p, &shown)
	if err == nil {
		r.kept = true
	}
	return r, err
}

// unproven adds drafts to a list that the search was ended before it had filled: the
// cheapest first, none that is there already or has more in it than one that is.
func (s *search) unproven(r *Repairs, sets [][]int) error {
	slices.SortStableFunc(s.drafts, func(a, b draft) int { return cmp.Compare(a.cost, b.cost) })
	for _, d := range s.drafts {
		if len(r.List) >= alternatives || slices.ContainsFunc(sets, func(set []int) bool {
			return !slices.ContainsFunc(set, func(a int) bool { return !slices.Contains(d.set, a) })
		}) {
			continue
		}
		repair, err := s.prove(d.set)
		if err == nil && repair == nil { // no time for a better plan
			repair, err = s.asFound(d.set)
		}
		if err != nil {
			return err
		}
		repair.kept = true
		r.List = append(r.List, *repair)
		sets = append(sets, d.set)
	}
	return nil
}
