// Package check is the judge. It reads a plant and a plan and names every rule
// that the plan breaks, with the numbers and with what to do about it, and it
// recomputes what the plan costs in every tier.
//
// Each rule stands in a file rule_*.go and is written from its sentence in
// Rules; everything is worked out from dates, clock times and the calendars.
// The judge fails closed: a plan without a complaint has had every stage, wish
// and visit that the plant asks for looked at, see Verdict.
//
// # What counts as history
//
// Running work began before the moment the plant file speaks of. Rules about how
// work may begin (release, hours, crossing, route towards what came before, able,
// closed, customer, floor, readiness, frozen, notice) are not asked of it: no
// plan could mend them. That it goes on as it runs is a rule of its own, started.
// A visit under way cannot be broken and costs nothing; its wishes may be in the
// plan or not, since nobody records which of them have been met.
//
// # Moments at midnight
//
// The day of an end is the day of the last minute before it: work that ends at
// 24:00 ends on that day, not on the next.
//
// Deliberately absent: anything that makes plans. The package imports plant and
// calendar only; it never meets slots of a solver, a literal or a clause, and it
// repairs nothing.
package check
