// Package schedule is the abstract exact planner: tasks with lists of allowed
// starts, machines, pooled resources, arcs between starts, and tiers of costs
// over one integer time line.
//
// Solve answers a Problem in three steps: the constructor places the jobs one after
// the other, or the tasks of a project (a first answer, at once); the encoder turns the question into
// clauses over order literals "task starts at its k-th start or later"; and each
// tier is optimised by package maxsat on one session, with a proof, before the
// next one counts. Verify says, from the definitions in problem.go alone, what
// an answer costs and which rule it breaks.
//
// Deliberately absent: trucks, bays, dates, calendars. Published benchmark sets
// run here as they are.
package schedule
