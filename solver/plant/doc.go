// Package plant holds the nouns of a fire-apparatus plant as plain values: the
// trucks and the line they come from, the route of stages after line-off, bays,
// crews, customers' visits, bookings, slips and the plan itself.
//
// It reads a plant file (Read), reports every fault in it with its place
// (Fault), and derives the facts that follow from the file alone: the features
// of a truck, which bays can take it, when the line lets it go, what a slip
// changes, how frozen a booking is.
//
// Deliberately absent: anything about how to plan. No slots of a solver, no
// literals, no search, no clock.
package plant
