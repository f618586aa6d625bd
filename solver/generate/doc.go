// Package generate makes invented plants, as large and as busy as wanted, for
// demonstrations, tests and measurements. Equal options give equal plants.
//
// A plant is made in the order in which one comes to be. Orders are drawn
// (order.go) and put on a line whose pace fits them (line.go); bays and crews are
// counted so that the tightest of them are as busy as asked for (house.go); the
// shop is then run by hand, first come, earliest place, from long before now
// until the last delivery (shop.go). What that run has finished or begun by now
// becomes the trucks' present state; the days it gave to visits and deliveries,
// with luck good and bad, become bookings and contracts (booking.go). So nearly
// every booked visit can be kept, and some cannot.
//
// History makes a past instead of a plant: what was projected of trucks that have
// left or will, and what came of it, by a law that is given with it (history.go).
//
// Every name in it is made up (names.go). Deliberately absent: a plan. The days
// of the run are not in the plant, and nothing of the planner is used here.
package generate
