// Package history is what slips teach: from days that were projected and days on
// which things happened, how far a projection made today can be trusted, how well
// such answers would have held in the past, and what was on time by which date.
//
// Slips are counted in working days, positive for late. A projection is compared
// with those of the same event whose trucks are alike and that were made about as
// far ahead; what is still to come counts as later than today, since leaving it
// out would leave out the late ones. Nothing is known on a day but what was said
// and had happened before it: the same code answers today's question and those of
// the past.
//
// Deliberately absent: files and tables, the present time, plans, and any guess
// at the causes of slips: whose clock it was is written down by people.
package history
