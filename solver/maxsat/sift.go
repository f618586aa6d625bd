package maxsat

import (
	"context"
	"slices"

	"wetdown/solver/sat"
)

// in says which part a literal is of, if it is of one.
func (m *minimizer) in(part int, l sat.Lit) {
	if part > 0 {
		m.s.Part(part, l)
	}
}

// sift looks for cores of the present level part by part, until none is found any more. The session
// decides on one part only then: a core of a few neighbours costs a search among these, not among all,
// and no model is needed in between. A core of a part is a core, so the bound is one. It returns Sat
// when what is left concerns several parts, or when the bound has reached the cost of the best answer;
// Unsat when there is no model at all; Unknown when ctx ended it.
func (m *minimizer) sift(ctx context.Context) sat.Status {
	defer m.s.Focus(0)
	for {
		before := m.lower
		for part := 1; part <= m.watch.Parts; part++ {
			if status := m.siftPart(ctx, part); status != sat.Sat || m.upper == m.lower {
				return status
			}
		}
		if m.lower == before {
			return sat.Sat
		}
		m.reform()
		m.harden()
	}
}

// siftPart does so for one part and the present level.
func (m *minimizer) siftPart(ctx context.Context, part int) sat.Status {
	for {
		as := m.assumptions(part)
		if q := m.quiet[part]; q != nil && !slices.ContainsFunc(as, func(l sat.Lit) bool { return !q[l] }) {
			return sat.Sat // as the last time, or less
		}
		m.s.Focus(part)
		switch m.s.Within(ctx, firstEffort, as) {
		case sat.Unknown:
			if m.s.Ended(ctx) {
				return sat.Unknown
			}
			if !m.hopes.giveUp(m.s.Core()) {
				return sat.Sat // left to the question about everything
			}
		case sat.Sat:
			m.quiet[part] = map[sat.Lit]bool{}
			for _, l := range as {
				m.quiet[part][l] = true
			}
			return sat.Sat
		case sat.Unsat:
			if m.absurd(ctx) {
				return sat.Unsat
			}
			if m.upper == m.lower {
				return sat.Sat
			}
		}
	}
}
