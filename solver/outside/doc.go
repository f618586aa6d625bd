// Package outside runs solvers of other makers, clasp and MiniZinc with Gecode, and
// reads exported files with nothing but what they say, so that tests and
// measurements can compare. Nothing but tests uses it.
//
// Deliberately absent: plants, problems and answers; what comes back is numbers.
package outside
