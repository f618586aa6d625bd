package schedule

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"wetdown/solver/cnf"
	"wetdown/solver/maxsat"
	"wetdown/solver/sat"
)

// maxCopies bounds how many literals stand in for heavy ones in one file.
const maxCopies = 1_000_000

// WriteWCNF writes the whole problem for MaxSAT solvers, in the classic format: a
// header "p wcnf VARIABLES CLAUSES TOP", hard clauses of weight TOP, and soft
// clauses, all of one literal. Nothing is left to narrower windows or to machines
// named afterwards. The least cost is the sum of value × scale over the tiers of
// the best answer; comments give a line "c tier NAME scale N" for each, say how
// the scales were chosen, and which literals place which task.
//
// With k nil it returns ErrNeedsProof, before it writes anything, when it must
// know more than p to choose scales.
func WriteWCNF(w io.Writer, p *Problem, k *Proven) error {
	q, err := newClauses(p, k)
	if err != nil {
		return err
	}
	return q.write(w)
}

// clauses are a whole problem as a formula, and what its literals cost.
type clauses struct {
	sat.Formula
	e     *encoding
	fs    []family
	costs [][]maxsat.Soft // by tier, not scaled; what it costs in any case is on the literal that is always true
	parts []part          // where the clauses stand that say what fits where
	rules int             // the clauses that say what is right and what it costs; scales add more
	s     scales
	soft  []maxsat.Soft
	top   int64 // more than all soft weights together
}

// A part is the clauses of one crowd, or of a family whose machines are told apart:
// [from, to) of all clauses.
type part struct {
	crowd    crowd
	family   int // -1: a crowd
	from, to int
}

// counted is a sink that knows how many clauses it was given.
type counted interface {
	cnf.Sink
	NumClauses() int
}

// newClauses has the errors of WriteWCNF.
func newClauses(p *Problem, k *Proven) (*clauses, error) {
	s, err := weigh(p, k)
	if err != nil {
		return nil, err
	}
	q := &clauses{s: s, top: 1}
	q.encode(p, &q.Formula)
	q.rules = q.NumClauses()
	if q.soft, err = q.e.soften(q.costs, s); err != nil {
		return nil, err
	}
	for _, c := range q.soft {
		q.top = plus(q.top, c.Weight)
	}
	if q.top == math.MaxInt64 {
		return nil, fmt.Errorf("the costs of all tiers sum to more than 63 bits (scales %v): fewer trucks, or smaller prices, make less", s.by)
	}
	return q, nil
}

// encode writes every rule, in the widest windows and with machines named, and what
// literals cost.
func (q *clauses) encode(p *Problem, sink counted) {
	full, _ := allWindows(p, newGraph(p)) // without a start left, the clauses contradict each other
	q.e = newEncoding(p, full, full, sink)
	q.fs = families(p)
	for _, c := range uncovered(q.e.capacities(q.fs)) {
		from := sink.NumClauses()
		q.e.fit(c)
		q.parts = append(q.parts, part{c, -1, from, sink.NumClauses()})
	}
	for n, f := range q.fs {
		from := sink.NumClauses()
		q.e.named(f, always)
		q.parts = append(q.parts, part{family: n, from: from, to: sink.NumClauses()})
	}
	for t := range p.Tiers {
		softs, base := q.e.tier(&p.Tiers[t])
		if base > 0 {
			softs = append([]maxsat.Soft{{Lit: q.e.top, Weight: base}}, softs...)
		}
		q.costs = append(q.costs, softs)
	}
}

// write writes the file.
func (q *clauses) write(w io.Writer) error {
	out := bufio.NewWriter(w)
	q.e.explain(out, q.fs, q.s)
	fmt.Fprintf(out, "p wcnf %d %d %d\n", q.NumVars(), q.NumClauses()+len(q.soft), q.top)
	if err := q.WriteClauses(out, fmt.Sprintf("%d ", q.top)); err != nil {
		return err
	}
	for _, c := range q.soft {
		fmt.Fprintf(out, "%d %d 0\n", c.Weight, -c.Lit)
	}
	return out.Flush()
}

// soften returns the costs of all tiers, scaled, as literals that should be
// false. What a tier costs in any case falls on the literal that is always true.
// A weight, or the sum of the weights on one literal, that exceeds 31 bits is
// shared with literals that the heavy one implies. The last cost is one that
// nobody must pay: where everything else is decided at sight, clasp would take the
// file for a mere question of yes or no.
func (e *encoding) soften(costs [][]maxsat.Soft, s scales) (soft []maxsat.Soft, err error) {
	on := map[sat.Lit]int64{} // weight so far
	copies := 0
	for t := range costs {
		for _, c := range costs[t] {
			if c.Lit == e.top {
				for rest := times(c.Weight, s.by[t]); rest > 0; rest -= min(rest, maxWeight) {
					if copies++; copies > maxCopies {
						return nil, e.tooHeavy(t, s)
					}
					soft = append(soft, maxsat.Soft{Lit: e.top, Weight: min(rest, maxWeight)})
				}
				continue
			}
			if s.hard[t] {
				e.clause(-c.Lit)
				continue
			}
			l := c.Lit
			for rest := times(c.Weight, s.by[t]); rest > 0; {
				if on[l] == maxWeight {
					if copies++; copies > maxCopies {
						return nil, e.tooHeavy(t, s)
					}
					l = e.sink.Lit()
					e.clause(-c.Lit, l)
				}
				part := min(rest, maxWeight-on[l])
				soft = append(soft, maxsat.Soft{Lit: l, Weight: part})
				on[l] += part
				rest -= part
			}
		}
	}
	return append(soft, maxsat.Soft{Lit: e.sink.Lit(), Weight: 1}), nil
}

func (e *encoding) tooHeavy(t int, s scales) error {
	return fmt.Errorf("tier %s needs the scale %d, and weights of 31 bits cannot carry its costs: a smaller question, or smaller prices, may fit; the dzn format goes tier by tier and needs no scales", e.p.Tiers[t].Name, s.by[t])
}

// explain writes the comments.
func (e *encoding) explain(out io.Writer, fs []family, s scales) {
	say := func(format string, args ...any) { fmt.Fprintf(out, "c "+format+"\n", args...) }
	say("The cost of an answer is the sum of value x scale over these tiers. The least cost belongs to the best answer.")
	for t := range e.p.Tiers {
		say("tier %s scale %d", e.p.Tiers[t].Name, s.by[t])
	}
	say("%s", s.how)
	for t := range e.p.Tiers {
		if s.hard[t] {
			say("The best answer costs in tier %s what every answer costs: there, hard clauses forbid to cost more.", e.p.Tiers[t].Name)
		}
	}
	say("A weight of more than 31 bits is shared between copies of its literal.")
	say("How to read a model: a task is left out when the literal skip is true. Else it starts at its start number")
	say("first + the count of true literals among later (they are true up to one and false from there), starts counted")
	say("from 0; and it stands on one of the machines, counted from 0, of the class whose literal is true. Machines of")
	say("a class are alike: in the order of their starts, every task finds one of its class free (a task able to stand")
	say("on one machine only goes before others with the same start).")
	of := map[int]family{} // by task
	for _, f := range fs {
		for _, i := range f.tasks {
			of[i] = f
		}
	}
	for i := range e.p.Tasks {
		fmt.Fprintf(out, "c task %d first=%d", i, e.w.lo[i])
		if n := len(e.ge[i]); n > 0 {
			fmt.Fprintf(out, " later=%d..%d", e.ge[i][0], e.ge[i][n-1])
		}
		if e.skip[i] != -e.top {
			fmt.Fprintf(out, " skip=%d", e.skip[i])
		}
		for n, l := range e.on[i] {
			if l != 0 {
				fmt.Fprintf(out, " on=%s:%d", e.able(i, of[i].classes[n]), l)
			}
		}
		fmt.Fprintf(out, " name=%s\n", strings.ReplaceAll(e.p.Tasks[i].Name, "\n", " "))
	}
}

// able lists the machines of a class that task i is able to stand on: "3+4+7".
func (e *encoding) able(i int, class []int) string {
	var list []string
	for _, m := range class {
		if slices.Contains(e.p.Tasks[i].Able, m) {
			list = append(list, strconv.Itoa(m))
		}
	}
	return strings.Join(list, "+")
}
