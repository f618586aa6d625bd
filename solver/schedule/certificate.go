package schedule

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"

	"wetdown/solver/cnf"
	"wetdown/solver/maxsat"
	"wetdown/solver/sat"
)

// A Certificate is what others need to check that an answer is right and that none is
// better: the question as WriteWCNF writes it, a model of its clauses that costs what
// the answer costs, and for every tier clauses that a better answer would satisfy.
// Variables up to those of the question mean the same in all of them.
type Certificate struct {
	// Rules is the number of clauses that say what is right and what it costs. They
	// are the first hard ones of the question.
	Rules int
	// Variables and Clauses are those of the question.
	Variables, Clauses int
	Tiers              []*Excess // those with costs that could be less than they are

	q     *clauses
	model []bool // by variable
}

// An Excess is clauses that contradict each other, and that every right answer
// satisfies which is in no tier before this one worse than a given one, and better in
// this one: some of the rules, and bounds on costs.
type Excess struct {
	Tier               int   // of the problem
	Value              int64 // of the answer
	Rules              int   // how many of its clauses are rules; they come first
	Variables, Clauses int

	kept   []bool // by rule
	bounds sat.Formula
}

// Less is what the clauses allow the tier to cost at most.
func (x *Excess) Less() int64 { return x.Value - 1 }

// ErrNotBest says that there is an answer better than the one to be certified.
var ErrNotBest = errors.New("there is a better answer")

// ErrHeavy says that no scales fit by which all tiers can be weighed in one file.
var ErrHeavy = errors.New("the tiers cannot be weighed in one file")

// CountClauses is how many clauses the whole problem makes. It keeps none of them.
func CountClauses(p *Problem) int {
	var t tally
	new(clauses).encode(p, &t)
	return t.clauses
}

// tally counts what is written to it.
type tally struct{ variables, clauses int }

func (t *tally) Lit() sat.Lit         { t.variables++; return sat.Lit(t.variables) }
func (t *tally) Add(...sat.Lit)       { t.clauses++ }
func (t *tally) Add2(_, _ sat.Lit)    { t.clauses++ }
func (t *tally) Add3(_, _, _ sat.Lit) { t.clauses++ }
func (t *tally) NumClauses() int      { return t.clauses }

// Certify makes the certificate of an answer to p that is said to have these values.
// It fails when the answer is not right or has other values, with ErrNotBest when
// another is better, with ErrHeavy when the tiers cannot be weighed (see WriteWCNF),
// and when ctx ends. Report is told of every tier before it is worked on.
func Certify(ctx context.Context, p *Problem, a *Answer, values []int64, report func(tier int)) (*Certificate, error) {
	if found, faults := Verify(p, a); len(faults) > 0 {
		return nil, fmt.Errorf("the answer is not right: %s", faults[0])
	} else if !slices.Equal(found, values) {
		return nil, fmt.Errorf("the answer costs %v, not %v as said", found, values)
	}
	k := &Proven{Best: values}
	rs := reaches(p)
	if s := plain(rs, values); !s.fits(rs) {
		var err error
		if k, err = Prove(ctx, p); err != nil {
			return nil, err
		}
	}
	q, err := newClauses(p, k)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrHeavy, err)
	}
	c := &Certificate{Rules: q.rules, Variables: q.NumVars(), Clauses: q.NumClauses() + len(q.soft), q: q}
	if err := c.fill(a, values); err != nil {
		return nil, err
	}
	needed := make([]bool, len(q.parts))
	for t, v := range values {
		if v == 0 {
			continue // no cost is negative
		}
		report(t)
		x, err := c.excess(ctx, values[:t], v-1, needed)
		if err != nil {
			return nil, err
		}
		c.Tiers = append(c.Tiers, x)
	}
	return c, nil
}

// excess makes the clauses of the tier after those whose values are given: that one
// costs at most the limit. Which parts of the rules it needs is found by leaving
// them out: as long as the rest has a model, the parts that the model breaks come in,
// and are noted in needed for the tiers to come.
func (c *Certificate) excess(ctx context.Context, before []int64, limit int64, needed []bool) (*Excess, error) {
	q, p := c.q, c.q.e.p
	x := &Excess{Tier: len(before), Value: limit + 1, kept: make([]bool, q.rules)}
	for range q.NumVars() {
		x.bounds.Lit()
	}
	for t, v := range before {
		q.atMost(&x.bounds, q.costs[t], v)
	}
	q.atMost(&x.bounds, q.costs[x.Tier], limit)

	session := sat.New(0, 0)
	as := make([]sat.Lit, x.bounds.NumVars()+1) // by variable: what it is in the session, 0 for nothing yet
	clause := func(lits []sat.Lit) {
		var own []sat.Lit
		for _, l := range lits {
			if as[l.Var()] == 0 {
				as[l.Var()] = session.Lit()
			}
			if l < 0 {
				own = append(own, -as[-l])
			} else {
				own = append(own, as[l])
			}
		}
		session.Add(own...)
	}
	// A literal that several parts share is defined by the first clause about it.
	first := make([]int32, q.NumVars()+1)
	for n := q.rules - 1; n >= 0; n-- {
		for _, l := range q.Clause(n) {
			first[l.Var()] = int32(n)
		}
	}
	var keep func(from, to int)
	keep = func(from, to int) {
		for n := from; n < to; n++ {
			if x.kept[n] {
				continue
			}
			x.kept[n] = true
			x.Rules++
			for _, l := range q.Clause(n) {
				if d := int(first[l.Var()]); !x.kept[d] {
					keep(d, d+1)
				}
			}
			clause(q.Clause(n))
		}
	}
	at := 0
	for n, part := range q.parts {
		keep(at, part.from)
		if needed[n] {
			keep(part.from, part.to)
		}
		at = part.to
	}
	keep(at, q.rules)
	for n := range x.bounds.NumClauses() {
		clause(x.bounds.Clause(n))
	}
	for {
		switch session.Solve(ctx, nil) {
		case sat.Unknown:
			return nil, fmt.Errorf("time ran out while the clauses of tier %s were chosen: allow more", p.Tiers[x.Tier].Name)
		case sat.Unsat:
			x.Variables, x.Clauses = x.bounds.NumVars(), x.Rules+x.bounds.NumClauses()
			return x, nil
		}
		start := q.e.read(func(l sat.Lit) bool { return as[l] != 0 && session.Value(as[l]) })
		broken := q.broken(ctx, start, needed)
		if len(broken) == 0 {
			return nil, fmt.Errorf("%w: in tier %s one costs %d or less, and no more than this one in those before it", ErrNotBest, p.Tiers[x.Tier].Name, limit)
		}
		for _, n := range broken {
			needed[n] = true
			keep(q.parts[n].from, q.parts[n].to)
		}
	}
}

// broken lists the parts that starts break, of those not needed so far; around a
// crowd, also those of its owner. The machines are looked at when everything else
// fits.
func (q *clauses) broken(ctx context.Context, start []int, needed []bool) (list []int) {
	p := q.e.p
	near := map[place]bool{}
	for n := range q.parts {
		if c := &q.parts[n].crowd; q.parts[n].family < 0 && !needed[n] && len(overfull(p, []crowd{*c}, start)) > 0 {
			for t := c.slot - days; t <= c.slot+days; t++ {
				near[place{c.owner, t}] = true
			}
		}
	}
	for n := range q.parts {
		c := &q.parts[n].crowd
		if q.parts[n].family < 0 && !needed[n] && near[place{c.owner, c.slot}] {
			list = append(list, n)
		}
	}
	if len(list) > 0 {
		return list
	}
	for n := range q.parts {
		if f := q.parts[n].family; f >= 0 && !needed[n] {
			if _, ok := q.fs[f].name(ctx, 0, p, start, nil, make([]int, len(start)), nil); !ok {
				list = append(list, n)
			}
		}
	}
	return list
}

// atMost writes that the costs come to at most limit. What they come to in any case
// is taken off both. A start so late, or so early, that its task alone costs more is
// forbidden outright. The rest is counted where all weights are alike (cnf.AtMost),
// else weighed (cnf.AtMostWeight).
func (q *clauses) atMost(s cnf.Sink, costs []maxsat.Soft, limit int64) {
	for _, c := range costs {
		if c.Lit == q.e.top {
			limit -= c.Weight
		}
	}
	if limit < 0 {
		s.Add()
		return
	}
	var unit int64
	var some []maxsat.Soft
	var last bound // of the costs that an order literal brings with it: the outermost
	var late bool
	var paid int64
	for _, c := range costs {
		if c.Lit == q.e.top {
			continue
		}
		sum := c.Weight
		if o, ok := q.e.meaning(max(c.Lit, -c.Lit)); ok {
			// Costs come from the cheapest start outwards: who starts farther out pays
			// all that come before.
			outwards := paid > 0 && o.task == last.task && late == (c.Lit > 0) && (late && o.index > last.index || !late && o.index < last.index)
			if !outwards {
				paid = 0
			}
			paid += c.Weight
			last, late, sum = o, c.Lit > 0, paid
		}
		if sum > limit {
			s.Add(-c.Lit)
			continue
		}
		unit = gcd(unit, c.Weight)
		some = append(some, c)
	}
	if len(some) == 0 {
		return
	}
	var lits []sat.Lit
	var terms []cnf.Term
	even := true
	for _, c := range some {
		lits = append(lits, c.Lit)
		terms = append(terms, cnf.Term{Lit: c.Lit, Weight: c.Weight / unit})
		even = even && c.Weight == unit
	}
	if even {
		cnf.AtMost(s, counter, lits, int(min(limit/unit, int64(len(lits)))))
	} else {
		cnf.AtMostWeight(s, terms, limit/unit)
	}
}

// gcd is the greatest common divisor; gcd(0, b) is b.
func gcd(a, b int64) int64 {
	for a != 0 {
		a, b = b%a, a
	}
	return b
}

// fill finds the model. What the answer decides is set, then everything that follows
// by unit propagation; the rest is false, which every encoding allows, since a helper
// variable is only ever forced to be true by what it stands for. Whether it is a
// model, and what it costs, is then counted.
func (c *Certificate) fill(a *Answer, values []int64) error {
	q, e := c.q, c.q.e
	known := make([]int8, q.NumVars()+1) // 1 true, -1 false
	set := func(l sat.Lit) {
		if l > 0 {
			known[l] = 1
		} else {
			known[-l] = -1
		}
	}
	for i, k := range a.Start {
		for j, l := range e.ge[i] {
			if k < e.first(i)+1+j {
				l = -l
			}
			set(l)
		}
		for _, l := range e.exact(i, k) {
			set(l)
		}
	}
	for _, f := range q.fs {
		for _, i := range f.tasks {
			stands := -1
			for n, l := range e.on[i] {
				if l != 0 && (stands < 0 || slices.Contains(f.classes[n], a.Machine[i])) {
					stands = n
				}
			}
			for n, l := range e.on[i] {
				switch {
				case l == 0:
				case n == stands:
					set(l)
				default:
					set(-l)
				}
			}
		}
	}
	is := func(l sat.Lit) int8 {
		if l > 0 {
			return known[l]
		}
		return -known[-l]
	}
	// Helpers come before the clauses that use them, or after: so both ways in turn.
	for again, up := true, true; again; up = !up {
		again = false
		for n := range q.NumClauses() {
			if !up {
				n = q.NumClauses() - 1 - n
			}
			var open sat.Lit
			for _, l := range q.Clause(n) {
				if is(l) > 0 || is(l) == 0 && open != 0 {
					open = 0
					break
				}
				if is(l) == 0 {
					open = l
				}
			}
			if open != 0 {
				set(open)
				again = true
			}
		}
	}
	c.model = make([]bool, len(known))
	for v := range known {
		c.model[v] = known[v] > 0
	}
	for n := range q.NumClauses() {
		if !slices.ContainsFunc(q.Clause(n), c.holds) {
			return fmt.Errorf("the clauses refuse the answer: %v", q.Clause(n))
		}
	}
	for t := range values {
		sum := int64(0)
		for _, s := range q.costs[t] {
			if c.holds(s.Lit) {
				sum += s.Weight
			}
		}
		if sum != values[t] {
			return fmt.Errorf("tier %s costs %d by the clauses and %d by its definition", e.p.Tiers[t].Name, sum, values[t])
		}
	}
	return nil
}

func (c *Certificate) holds(l sat.Lit) bool { return c.model[l.Var()] == (l > 0) }

// WriteQuestion writes what WriteWCNF writes.
func (c *Certificate) WriteQuestion(w io.Writer) error { return c.q.write(w) }

// WriteModel writes the model of the question as lines "v LITERAL LITERAL ...", the
// last of which ends with 0: the form in which solvers print one.
func (c *Certificate) WriteModel(w io.Writer) error {
	out := bufio.NewWriter(w)
	line := []byte("v")
	for v := 1; v < len(c.model); v++ {
		l := int64(v)
		if !c.model[v] {
			l = -l
		}
		line = strconv.AppendInt(append(line, ' '), l, 10)
		if len(line) > 68 {
			out.Write(append(line, '\n'))
			line = append(line[:0], 'v')
		}
	}
	out.Write(append(line, " 0\n"...))
	return out.Flush()
}

// WriteCosts writes a line "TIER WEIGHT LITERAL" for everything that costs something:
// a tier costs the sum of the weights whose literals are true. Literal 1 always is.
func (c *Certificate) WriteCosts(w io.Writer) error {
	out := bufio.NewWriter(w)
	for t, costs := range c.q.costs {
		for _, s := range costs {
			fmt.Fprintf(out, "%s %d %d\n", c.q.e.p.Tiers[t].Name, s.Weight, s.Lit)
		}
	}
	return out.Flush()
}

// WriteTier writes the clauses of a tier in the DIMACS format.
func (c *Certificate) WriteTier(w io.Writer, x *Excess) error {
	out := bufio.NewWriter(w)
	tiers := c.q.e.p.Tiers
	fmt.Fprintf(out, "c Right plans of which tier %s costs at most %d. These clauses contradict each other.\n", tiers[x.Tier].Name, x.Less())
	fmt.Fprintf(out, "c The first %d are rules: some of the first %d hard clauses of the question, in the same order.\n", x.Rules, c.Rules)
	fmt.Fprintf(out, "c The others say that the costs of this tier come to %d at most, and those of every tier before it to its value.\n", x.Less())
	fmt.Fprintf(out, "p cnf %d %d\n", x.Variables, x.Clauses)
	var line []byte
	for n, kept := range x.kept {
		if !kept {
			continue
		}
		line = line[:0]
		for _, l := range c.q.Clause(n) {
			line = append(strconv.AppendInt(line, int64(l), 10), ' ')
		}
		if _, err := out.Write(append(line, '0', '\n')); err != nil {
			return err
		}
	}
	if err := x.bounds.WriteClauses(out, ""); err != nil {
		return err
	}
	return out.Flush()
}
