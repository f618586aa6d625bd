// Package cnf writes constraints as clauses: integers as order literals, "at most k
// of these", sums with weights, and counters that grow with a core-guided search.
//
// Everything speaks of literals and numbers only and writes to a Sink, which a
// sat.Session and a sat.Formula are. Each encoding is one-directional: it forbids
// what the constraint forbids and leaves its helper variables free otherwise, so
// that unit propagation alone finds every input that is forced (arc consistency),
// except where a comment says so. Helper variables are created in an order that
// depends on the arguments alone.
//
// Deliberately absent: lower bounds (negate the inputs), helper variables that
// mirror a count in both directions, and any knowledge of what the literals mean.
package cnf
