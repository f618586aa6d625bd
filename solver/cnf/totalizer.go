package cnf

import (
	"fmt"

	"wetdown/solver/sat"
)

// A Totalizer counts inputs upwards, as far as it is asked: AtLeast(k) is implied by
// "k or more of the inputs are true". Core-guided optimisation (OLL) assumes the
// negation of one output after the other, so clauses and variables for a count are
// written when it is first asked for and no sooner (Martins, Joshi, Manquinho and
// Lynce, Incremental cardinality constraints for MaxSAT, CP 2014). Asking for k
// costs at most one variable and k+1 clauses a node.
//
// An output may be true without its count being reached; AtLeast(k+1) implies
// AtLeast(k), so assuming the negation of an output negates those above it.
type Totalizer struct {
	sink Sink
	root *node
}

// node counts the inputs below it. A leaf has one output, its input.
type node struct {
	left, right *node
	size        int
	outs        []sat.Lit // outs[j-1] is "j or more"; as far as written
}

// NewTotalizer prepares a counter over one or more inputs and writes nothing yet. A
// literal that occurs twice counts twice.
func NewTotalizer(s Sink, inputs []sat.Lit) *Totalizer {
	if len(inputs) == 0 {
		panic("cnf: NewTotalizer without inputs")
	}
	return &Totalizer{sink: s, root: newNode(inputs)}
}

func newNode(inputs []sat.Lit) *node {
	n := len(inputs)
	if n == 1 {
		return &node{size: 1, outs: []sat.Lit{inputs[0]}}
	}
	return &node{size: n, left: newNode(inputs[:n/2]), right: newNode(inputs[n/2:])}
}

// Len is the number of inputs.
func (t *Totalizer) Len() int { return t.root.size }

// AtLeast is the output of "k or more of the inputs are true", k in [1, Len].
func (t *Totalizer) AtLeast(k int) sat.Lit {
	if k < 1 || k > t.root.size {
		panic(fmt.Sprintf("cnf: Totalizer.AtLeast(%d) over %d inputs", k, t.root.size))
	}
	from := len(t.root.outs)
	t.root.extend(t.sink, k)
	for j := max(from, 1); j < k; j++ {
		t.sink.Add2(-t.root.outs[j], t.root.outs[j-1])
	}
	return t.root.outs[k-1]
}

// extend writes the outputs up to k, or to all inputs when they are fewer.
func (n *node) extend(s Sink, k int) {
	k = min(k, n.size)
	if len(n.outs) >= k {
		return
	}
	n.left.extend(s, k)
	n.right.extend(s, k)
	for j := len(n.outs) + 1; j <= k; j++ {
		out := s.Lit()
		n.outs = append(n.outs, out)
		implySum(s, n.left.outs, n.right.outs, j, out)
	}
}
