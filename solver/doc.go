// Package solver is the planner in plant words: Plan, Replan, Offers, Why and
// Quote. It turns a plant into tasks over the parts of the days (question.go,
// route.go, tiers.go), has package schedule answer them exactly, and turns the
// answer back; the judge, package check, passes every plan before anyone sees it.
//
// Deliberately absent: files, network, a clock (a caller may lend one to have the
// seconds measured), and anything about literals and clauses.
package solver
