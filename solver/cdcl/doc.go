// Package cdcl looks for models of clauses by learning from conflicts (Marques-Silva and
// Sakallah, "GRASP", IEEE Transactions on Computers 48, 1999; Moskewicz, Madigan, Zhao, Zhang and
// Malik, "Chaff", DAC 2001; Eén and Sörensson, "An extensible SAT-solver", SAT 2003). What
// makes it fast on questions that are hard for their size: what was learned is judged by how
// many levels of the search meet in it, and the worse of it soon forgotten; it begins anew
// when what it learns gets worse than it was (Audemard and Simon, "Predicting learnt
// clauses quality in modern SAT solvers", IJCAI 2009; Biere and Fröhlich, "Evaluating CDCL
// restart schemes", POS 2015); and turns of that kind alternate with calm ones, with
// few new beginnings, each aiming at the longest stretch without a conflict so far (Biere, Fazekas,
// Fleury and Heisinger, "CaDiCaL, Kissat, Paracooba, Plingeling and Treengeling",
// SAT Competition 2020).
//
// It searches for plans and for projects: thousands of questions that assume nearly the same, of which
// it keeps what they share. A question may be left after a number of conflicts, and says then which
// assumptions it was busy with. Where the caller names the variables that matter, the others are never
// decided on, which makes models cheap; and it can decide on one part of the variables only, which makes what is
// wrong there cheap to find. Equal calls give equal answers.
//
// Deliberately absent: clauses made simpler beforehand, and guards against being asked in the wrong
// order beyond a model's (see package sat, which keeps other questions).
package cdcl
