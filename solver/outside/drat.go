package outside

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
)

// CheckProof goes through a proof, in the text form of DRAT (Wetzler, Heule and Hunt,
// "DRAT-trim", SAT 2014), from its first line to its last: a line adds a clause, or
// after "d" deletes one. Each clause that is added must follow from those there by unit
// propagation (RUP). The proof is right when that comes to the empty clause. Clauses that
// follow only by resolution with everything there (RAT) are refused: cadical writes none
// in its default settings (seen in 1.5.3). A clause in which a literal is true for
// good stays when it is deleted: nothing is lost, and what it made true stays so.
//
// Written for the tests; Debian has no checker.
func CheckProof(f *DIMACS, proof io.Reader) error {
	c := &checker{value: make([]int8, 2*f.Variables+2), watch: make([][]*lemma, 2*f.Variables+2), named: map[string][]*lemma{}}
	for _, clause := range f.Hard {
		c.add(clause)
	}
	lines := bufio.NewScanner(proof)
	lines.Buffer(nil, 1<<24)
	for n := 1; !c.done && lines.Scan(); n++ {
		text, deleted := strings.CutPrefix(lines.Text(), "d ")
		clause, err := f.clause(strings.Fields(text))
		switch {
		case err != nil:
			return fmt.Errorf("line %d of the proof: %w", n, err)
		case deleted:
			c.remove(clause)
		case !c.follows(clause):
			return fmt.Errorf("line %d of the proof: clause %v does not follow by unit propagation", n, clause)
		default:
			c.add(clause)
		}
	}
	if err := lines.Err(); err != nil {
		return err
	}
	if !c.done {
		return fmt.Errorf("the proof ends before the empty clause")
	}
	return nil
}

// A lemma is a clause; the first two of its literals are watched.
type lemma struct {
	lits []int32
	gone bool
}

type checker struct {
	value []int8     // by at: 1 for true, -1 for false
	trail []int32    // literals that are true, in the order in which they became so
	next  int        // of trail, whose watches are to be looked at
	watch [][]*lemma // by at of a literal: clauses to look at when it becomes false
	named map[string][]*lemma
	done  bool // the empty clause follows
}

// at is where a literal stands in a slice.
func at(l int32) int32 {
	if l < 0 {
		return -2*l + 1
	}
	return 2 * l
}

// hold makes a literal true.
func (c *checker) hold(l int32) {
	c.value[at(l)], c.value[at(-l)] = 1, -1
	c.trail = append(c.trail, l)
}

// set is the literals of a clause, each once, in order.
func set(clause []int32) []int32 {
	return slices.Compact(slices.Sorted(slices.Values(clause)))
}

// name is the same for clauses of the same literals.
func name(clause []int32) string {
	var b strings.Builder
	for _, l := range set(clause) {
		b.WriteString(strconv.Itoa(int(l)))
		b.WriteByte(' ')
	}
	return b.String()
}

// add adds a clause. Nothing but what is true for good is on the trail.
func (c *checker) add(clause []int32) {
	k := &lemma{lits: set(clause)}
	c.named[name(clause)] = append(c.named[name(clause)], k)
	// Literals that are not false go first, to be watched.
	n := 0
	for i, l := range k.lits {
		if c.value[at(l)] >= 0 {
			k.lits[n], k.lits[i] = k.lits[i], k.lits[n]
			n++
		}
	}
	if len(k.lits) > 1 {
		for _, l := range k.lits[:2] {
			c.watch[at(l)] = append(c.watch[at(l)], k)
		}
	}
	switch {
	case n == 0:
		c.done = true
	case n == 1 && c.value[at(k.lits[0])] == 0:
		c.hold(k.lits[0])
		c.done = c.done || !c.propagate()
	}
}

// remove deletes a clause, unless one of its literals is true for good.
func (c *checker) remove(clause []int32) {
	key := name(clause)
	list := c.named[key]
	if len(list) == 0 {
		return // it was never there: more cannot follow without it
	}
	k := list[len(list)-1]
	if slices.ContainsFunc(k.lits, func(l int32) bool { return c.value[at(l)] > 0 }) {
		return
	}
	k.gone = true
	c.named[key] = list[:len(list)-1]
}

// follows reports whether a contradiction is met when every literal of the clause is
// false. What became true on the way is taken back.
func (c *checker) follows(clause []int32) bool {
	mark := len(c.trail)
	conflict := false
	for _, l := range clause {
		switch c.value[at(l)] {
		case 1:
			conflict = true
		case 0:
			c.hold(-l)
		}
	}
	conflict = conflict || !c.propagate()
	for _, l := range c.trail[mark:] {
		c.value[at(l)], c.value[at(-l)] = 0, 0
	}
	c.trail = c.trail[:mark]
	c.next = mark
	return conflict
}

// propagate makes true what must be; false when a clause has no literal left.
func (c *checker) propagate() bool {
	for ; c.next < len(c.trail); c.next++ {
		off := -c.trail[c.next] // this has become false
		list := c.watch[at(off)]
		kept := list[:0]
		for n, k := range list {
			if k.gone {
				continue
			}
			if k.lits[0] == off {
				k.lits[0], k.lits[1] = k.lits[1], k.lits[0]
			}
			if c.value[at(k.lits[0])] <= 0 {
				if i := slices.IndexFunc(k.lits[2:], func(l int32) bool { return c.value[at(l)] >= 0 }); i >= 0 {
					k.lits[1], k.lits[i+2] = k.lits[i+2], k.lits[1]
					c.watch[at(k.lits[1])] = append(c.watch[at(k.lits[1])], k)
					continue
				}
				if c.value[at(k.lits[0])] < 0 {
					c.watch[at(off)] = append(kept, list[n:]...)
					return false
				}
				c.hold(k.lits[0])
			}
			kept = append(kept, k)
		}
		c.watch[at(off)] = kept
	}
	return true
}
