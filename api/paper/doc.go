// Package paper prints sheets that people carry over the shop floor, as complete
// HTML documents: the line-up of the floor for one day, the sheet of one visit,
// and the week of one bay. All of it is read off the plant and the plan in force.
//
// A sheet needs nothing but itself: its style is in it, it has no script, no
// picture and no colour, and it fits A4 and Letter. What people have typed is
// escaped, and set apart where it is written from right to left.
//
// Deliberately absent: any decision, a clock (the day of a sheet is an argument),
// and files.
package paper
