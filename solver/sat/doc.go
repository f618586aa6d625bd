// Package sat has literals and clauses, and is the conversation with gini: a
// Session with stated states, for offers, reasons and certificates (plans and
// projects are searched for by package cdcl). It is the only package that imports gini
// (github.com/go-air/gini v1.0.4) and it guards what that library leaves open.
//
// # What the session guards
//
//   - gini answers a question asked in the wrong state with leftovers. Session
//     panics with the method's name.
//   - gini's "cancelled" (0) is Unknown here and nothing else.
//   - A contradiction among the clauses alone is forgotten by gini when it is
//     asked again: it then searches on, meets its own model check and ends the
//     process. Session remembers it and never asks again.
//   - After an answer Unsat, gini starts the next call by analysing the last
//     conflict, and loses a contradiction that this uncovers in the same way.
//     Session drops that conflict first.
//   - gini sets all remembered phases (the value a variable had last) anew when
//     its highest variable has grown since the call before. Reserve creates
//     variables ahead, so that Lit need not.
//   - gini creates literals on sight. Session refuses one that Lit did not make.
//
// # Determinism
//
// Neither gini nor this package has a random number or, without a context that
// can be cancelled, a clock: equal call sequences give equal answers, equal
// models and equal cores.
//
// # What is deliberately absent
//
// Activation literals and test scopes of gini; its wall-clock Try, whose deadline
// stays armed for later calls; a budget of conflicts or propagations, which gini
// does not offer (it looks up once in 20,000 propagations, and whether somebody
// stands ready at that moment is up to the scheduler); counts of conflicts, which
// its public face does not show; copying a session.
package sat
