// Package outside runs solvers of other makers, clasp, cadical, and MiniZinc with
// Gecode, reads exported files with nothing but what they say, and goes through proofs
// step by step, so that tests and measurements can compare. Nothing but tests uses it.
//
// Deliberately absent: plants, problems and answers; what comes back is numbers.
package outside
