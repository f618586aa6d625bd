// Package wire is what machines read: the answers of the planner as JSON, the same from
// the command line and from the service. Days are YYYY-MM-DD and moments
// YYYY-MM-DDTHH:MM of the plant's own clock; what is absent is null; lists are never null
// where there is an answer.
//
// Each function named To writes one kind of answer and decides nothing.
//
// Deliberately absent: reading JSON back, and everything that only one of the two has.
package wire
