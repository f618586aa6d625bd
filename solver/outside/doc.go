// Package outside runs solvers of other makers, clasp and MiniZinc with Gecode,
// so that tests and measurements can compare with them. Nothing but tests uses it.
//
// Deliberately absent: knowledge of what is asked.
package outside
