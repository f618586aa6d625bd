package solver

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// Formats of an export.
const (
	WCNF = "wcnf" // clauses with weights, for MaxSAT solvers; see schedule.WriteWCNF
	DZN  = "dzn"  // data for the MiniZinc model in testdata; see schedule.WriteDZN
)

// ErrNoStart is returned for a plant with a stage that has no start at all: it is
// infeasible at sight, and no question for another solver.
var ErrNoStart = errors.New("there is no plan")

// Export writes what Plan answers, every rule and every tier, for other solvers. A
// wcnf may need the proven values of the best plan to weigh the tiers; it is then
// planned first, and ctx may end that with an error. Nothing is written before an
// error.
func Export(ctx context.Context, p *plant.Plant, format string, w io.Writer) error {
	if format != WCNF && format != DZN {
		return fmt.Errorf("format %q is not known: ask for %s or %s", format, WCNF, DZN)
	}
	q, lost, err := ask(p)
	if err != nil {
		return err
	}
	if len(lost) > 0 {
		var reasons []string
		for _, l := range lost {
			reasons = append(reasons, fmt.Sprintf("%s, %s: %s", l.Truck, l.Stage, l.Why))
		}
		return fmt.Errorf("%w: %s", ErrNoStart, strings.Join(reasons, "; "))
	}
	if format == DZN {
		return schedule.WriteDZN(w, &q.problem, nil)
	}
	err = schedule.WriteWCNF(w, &q.problem, nil)
	if !errors.Is(err, schedule.ErrNeedsProof) {
		return err
	}
	proven, err := schedule.Prove(ctx, &q.problem)
	if err != nil {
		return err
	}
	return schedule.WriteWCNF(w, &q.problem, proven)
}
