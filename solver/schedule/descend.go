package schedule

import (
	"context"
	"fmt"
	"slices"

	"wetdown/solver/sat"
)

// makespan is the one thing that a project costs: the start of one task, and never less
// for a later one. It returns nil when it costs something else.
func (p *Problem) makespan() *Cost {
	if len(p.Tiers) != 1 || len(p.Tiers[0].Costs) != 1 || len(p.Tiers[0].Gaps) > 0 || !slices.IsSorted(p.Tiers[0].Costs[0].At) {
		return nil
	}
	return &p.Tiers[0].Costs[0]
}

// descend proves the best answer of a project that costs its makespan, within the windows
// that this answer leaves, from both sides and in one session, in turns that grow: is there an answer
// that costs no more than the bound, and if not, the next one; and is there one that costs
// less than the best. A question that takes too long waits for its next turn.
func (s *solving) descend(ctx context.Context, c *Cost, sets [][]int) Status {
	solver := s.session
	e := newEncoding(s.p, s.full, s.full, solver)
	e.forbid(sets)
	defer func() {
		st := solver.Stats()
		s.counts.Variables, s.counts.Clauses, s.counts.Calls = st.Vars, st.Clauses, s.counts.Calls+st.Calls
	}()
	e.prefer(solver, s.best.Start)
	from := func(v int64) sat.Lit { // the makespan is v or more
		k, _ := slices.BinarySearch(c.At, v)
		return e.from(c.Task, max(k, s.full.lo[c.Task]))
	}
	if low := c.At[s.full.lo[c.Task]]; low > s.bounds[0] {
		s.raise(low)
	}
	for effort := int64(firstEffort); ; effort += effort / 2 {
		for s.err == nil && s.bounds[0] < s.values[0] {
			k, _ := slices.BinarySearch(c.At, s.bounds[0]+1)
			next := c.At[k]
			status := solver.Within(ctx, effort, []sat.Lit{-from(next)})
			if status == sat.Sat {
				s.improve(e.read(solver.Value))
			}
			if status != sat.Unsat {
				break
			}
			solver.Add(from(next))
			s.raise(next)
		}
		for s.err == nil && s.bounds[0] < s.values[0] {
			solver.Add(-from(s.values[0]))
			status := solver.Within(ctx, above*effort, nil)
			if status == sat.Unsat {
				s.raise(s.values[0])
			}
			if status != sat.Sat {
				break
			}
			s.improve(e.read(solver.Value))
		}
		switch {
		case s.err != nil || ctx.Err() != nil:
			return Unknown
		case s.bounds[0] == s.values[0]:
			return Optimal
		}
	}
}

// Conflicts of the first turn of a question from below, and how many times as many one
// from above has.
const (
	firstEffort = 500
	above       = 4
)

// improve takes the starts of a model, which cost less than the best answer.
func (s *solving) improve(start []int) {
	a := Answer{start, make([]int, len(start))}
	for i := range a.Machine {
		a.Machine[i] = -1
	}
	before := s.best
	if s.consider(&a); s.err == nil && s.best == before {
		s.err = fmt.Errorf("schedule: a model that should cost less than %d does not", s.values[0])
	}
}
