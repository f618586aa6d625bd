package solver

import (
	"cmp"
	"fmt"
	"slices"

	"wetdown/solver/check"
	"wetdown/solver/plant"
)

// quick looks for ways out that need not be the cheapest, so that something can be shown
// before anything is proven: all measures of one kind, kind by kind, then all there are
// but the kinds of each way before. Of what works, measures are dropped as long as the
// others do. Every way has a plan that the judge has passed, is told to who watches, and
// differs from those before it in a kind.
func (s *search) quick() error {
	most := s.spent + s.budget/quickShare
	over := func() bool { return s.spent >= most || s.over() || len(s.drafts) >= alternatives }
	var kinds []string
	all := make([]int, len(s.actions))
	for a := range s.actions {
		all[a] = a
		if k := s.actions[a].Kind; !slices.Contains(kinds, k) {
			kinds = append(kinds, k)
		}
	}
	of := func(kind string) (set []int) {
		for _, a := range all {
			if s.actions[a].Kind == kind {
				set = append(set, a)
			}
		}
		return set
	}
	for _, k := range kinds {
		if over() {
			return nil
		}
		if err := s.draft(of(k), over); err != nil {
			return err
		}
	}
	for without := 0; without <= len(kinds) && !over(); without++ { // all of them, then all but one kind
		set := all
		if without > 0 {
			set = slices.DeleteFunc(slices.Clone(all), func(a int) bool { return s.actions[a].Kind == kinds[without-1] })
		}
		if slices.ContainsFunc(s.drafts, func(d draft) bool {
			return !slices.ContainsFunc(d.set, func(a int) bool { return !slices.Contains(set, a) })
		}) {
			continue // a way that is known lies in it
		}
		if err := s.draft(set, over); err != nil {
			return err
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
	dear := slices.Clone(set) // the dearest are dropped first
	slices.SortStableFunc(dear, func(a, b int) int { return cmp.Compare(s.costs[b], s.costs[a]) })
	var drop func(list []int) error
	drop = func(list []int) error {
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
		if err := drop(list[:len(list)/2]); err != nil {
			return err
		}
		return drop(list[len(list)/2:])
	}
	if err := drop(dear); err != nil {
		return err
	}
	d := draft{set: set}
	for _, a := range set {
		d.cost += s.costs[a]
	}
	if len(set) == 0 || slices.ContainsFunc(s.drafts, func(o draft) bool { return slices.Equal(o.set, set) }) {
		return nil
	}
	s.drafts = append(s.drafts, d)
	return s.show(set)
}

// show tells who watches of a way out, as it stands.
func (s *search) show(set []int) error {
	if s.seek == nil {
		return nil
	}
	actions, plan := s.taken(set), s.plans[key(set)]
	p := Under(s.p.With(actions), s.conditions)
	if v := check.Plan(p, plan); !v.Right() {
		return fmt.Errorf("%w: %s (of a way out; and %d more)", ErrJudge, v.Broken[0].Sentence, len(v.Broken)-1)
	}
	shown := *plan
	shown.Status = plant.Feasible
	r, err := s.price(actions, p, &shown)
	if err != nil {
		return err
	}
	r.kept = true
	s.seek(Seeking{Asked: s.asked, Found: s.found, Proven: s.proven, Trying: actions, Way: r})
	return nil
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
		if err != nil || repair == nil {
			return err
		}
		repair.kept = true
		r.List = append(r.List, *repair)
		sets = append(sets, d.set)
	}
	return nil
}
