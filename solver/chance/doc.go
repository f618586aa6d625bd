// Package chance is probability for promises: laws of one number (three-point
// estimates, log-normal, what was observed), drawing from them by seeds that are
// found by name, quantiles by nearest rank, intervals for proportions, and the
// marks by which stated chances are held to account.
//
// Everything is a function of its arguments. A draw takes exactly one random
// number and turns it into a value by the law's quantile, so that two variants
// of a question that draw from equally named streams meet the same luck.
//
// Deliberately absent: dates, trucks, units of any kind, shared dice, and laws of
// several numbers at once: who needs numbers that depend on each other draws from
// one stream.
package chance
