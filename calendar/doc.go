// Package calendar is working time: civil dates, shifts, closures and holidays,
// and a calendar compiled for a run of days into a grid, from date to slot and
// from working minute to moment and back in O(1) or O(log n).
//
// Rules say when people work, as plain data. Compile works them out on a Grid
// and gives Hours, which answer every question about working time.
//
// Three kinds of time are kept apart:
//
//   - A Date is a civil date, a Moment a civil date and clock time. Neither is an
//     instant, neither has a zone.
//   - Working minutes are minutes of the wall clock inside shifts and outside
//     breaks. They do not see the clocks change: people are put down for the hours
//     of their shift.
//   - Elapsed minutes are real time, as paint cures. Only Grid.Elapsed and
//     Grid.ElapsedMinutes know of the zone.
//
// All intervals are half-open, except runs of days that people write down with
// their last day, which is then called Through.
//
// Deliberately absent: the present time, the machine's zone, languages, and any
// knowledge of what is planned. The zone database is the program's choice: import
// time/tzdata in the program, not here.
package calendar
