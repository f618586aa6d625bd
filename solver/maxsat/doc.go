// Package maxsat minimises a weighted sum of literals over one SAT session by
// unsatisfiable cores: it assumes that nothing costs anything, and pays only for
// what the solver refuses (the OLL method: Andres, Kaufmann, Matheis, Schaub,
// "Unsatisfiability-based optimization in clasp", ICLP 2012; Morgado, Dodaro,
// Marques-Silva, "Core-guided MaxSAT with soft cardinality constraints", CP 2014),
// heavy weights first (stratification) and with hardening of what no better
// answer can violate (Ansotegui, Bonet, Gabas, Levy, "Improving SAT-based
// weighted MaxSAT solvers", CP 2012). Where the caller divides the variables into parts, each is searched
// for cores by itself first (after Martins, Manquinho, Lynce, "On partitioning for maximum
// satisfiability", ECAI 2012, where parts are added one to the other).
//
// Deliberately absent: tasks and slots, and any search from above. The lower
// bound is proven at every moment; an answer is optimal when its cost meets it.
package maxsat
