// Package forecast runs the plant as it is, many times, with chance in it, and says how
// likely its promises are: whether trucks are ready for their visits (Readiness,
// Visiting), when they are delivered, and when a would-be order could be (Quoted). It
// also runs it once without chance (Unfold).
//
// # What chance decides
//
// Line-off days, deliveries to the line (feeders), how long stages take, and for how
// long others keep work waiting: by the Laws given; without any, by three-point
// estimates, and the answer says so. Those who wait for one supplier share its luck in
// half of the runs; in the others each has its own. What is drawn under one name is the
// same in all variants of a run (common random numbers), and does not depend on the
// number of workers.
//
// # How a run goes
//
// All work takes its place in the order of the plan in force, by planned start. Work
// under way comes first; work that the plan does not have comes with the first work after
// it that it has; a would-be order comes last of all. Each takes the first start that the
// rules and those before it leave: line-off, route and waits, working time and parts of
// the day, crossing, a bay that takes the truck and is open, one place at a time, heads
// of crews. Beside these:
//
//   - No work begins before its planned start, except in a bay at a time that the plan
//     gives to work that is not there: it is late, or was over early. Work whose result
//     does not keep (a greatest wait follows) never does.
//   - Whether work may begin is judged by its likely length: crossing, heads, and visits
//     to come in its bay. If it takes longer it runs on, over the end of a shift too, and
//     keeps its people. Up to an hour more than is likely is made up by staying on.
//   - Planned places of visits are kept free for them. A visit takes place on its planned
//     day, at the planned time or later, if every certificate is in hand with the buffer
//     before it and the work before it is done: work that is late and in its bay, or has
//     its people, steps aside. Otherwise the customer is told on the day on which that is
//     plain: the day after the last certificate could have come in time, at the latest
//     the day on which the truck was to take the floor. The visit moves, once, to the
//     first day that leaves the plant's notice from then and that windows, blackouts,
//     holidays, floor and hosts allow. When the windows have no such day left, a day
//     outside of them is taken. Frozen visits move like all others: their truck is not
//     ready.
//   - A wish that finds no place within its visit is left out.
//   - A would-be order is worked on as soon as there is room that everybody else leaves.
//     Its visit is booked on the first day for which it was ready in 80 % of the first
//     runs and on which the plan in force leaves a bay and hosts.
//
// # What this leaves out
//
// Against the planner of package solver: nobody weighs one promise against another, no
// other order of work is tried, no measure is taken, and a visit that moves is not moved
// again. Places are given to one work after the other, so work knows how long those
// before it in the order take, and may use a gap that only hindsight shows.
//
// A greatest wait that a moved visit exceeds is not worked off again. Work that steps
// aside for a visit loses no time. A truck that comes off the line late holds up none
// behind it on the line, and a visit at a station of the line may come after the truck
// has left it. No test is failed, no bay breaks down and no crew is away unless the plant
// says so. Visits and drives take as long as planned.
//
// Without chance and with a plan that holds, exactly that plan comes out; tests compare.
//
// Deliberately absent: the SAT solver and everything that proves. Answers are shares of
// runs, with their error.
package forecast
