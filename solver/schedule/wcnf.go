package schedule

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

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
	s, err := weigh(p, k)
	if err != nil {
		return err
	}
	var f sat.Formula
	full, _ := allWindows(p, newGraph(p)) // without a start left, the clauses contradict each other
	e := newEncoding(p, full, full, &f)
	fs := families(p)
	for _, c := range uncovered(e.capacities(fs)) {
		e.fit(c)
	}
	for _, fam := range fs {
		e.named(fam, always)
	}
	soft, err := e.soften(s)
	if err != nil {
		return err
	}
	top := int64(1)
	for _, c := range soft {
		top = plus(top, c.Weight)
	}
	if top == math.MaxInt64 {
		return fmt.Errorf("the costs of all tiers sum to more than 63 bits (scales %v): fewer trucks, or smaller prices, make less", s.by)
	}
	out := bufio.NewWriter(w)
	e.explain(out, fs, s)
	fmt.Fprintf(out, "p wcnf %d %d %d\n", f.NumVars(), f.NumClauses()+len(soft), top)
	if err := f.WriteClauses(out, fmt.Sprintf("%d ", top)); err != nil {
		return err
	}
	for _, c := range soft {
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
func (e *encoding) soften(s scales) (soft []maxsat.Soft, err error) {
	on := map[sat.Lit]int64{} // weight so far
	copies := 0
	for t := range e.p.Tiers {
		costs, base := e.tier(&e.p.Tiers[t])
		for rest := times(base, s.by[t]); rest > 0; rest -= min(rest, maxWeight) {
			if copies++; copies > maxCopies {
				return nil, e.tooHeavy(t, s)
			}
			soft = append(soft, maxsat.Soft{Lit: e.top, Weight: min(rest, maxWeight)})
		}
		for _, c := range costs {
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
