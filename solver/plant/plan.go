package plant

import "wetdown/calendar"

// A Plan says when and where every open stage of every truck takes place. Rows
// are sorted by truck, then start, then stage. A plan is a value: a change makes
// a new one with a higher Revision.
type Plan struct {
	Revision int
	Plant    string // name of the plant it was made for
	Made     calendar.Moment
	Program  string // version that made it
	Seed     uint64
	Status   Status
	Tiers    []TierValue
	Stages   []Planned
	Visits   []PlannedVisit
}

// Day is the day that the plan has for a visit, calendar.None if it has none.
func (p *Plan) Day(visit string) calendar.Date {
	for i := range p.Visits {
		if p.Visits[i].Visit == visit {
			return p.Visits[i].Day
		}
	}
	return calendar.None
}

// Planned is one stage of one truck in a plan. The truck holds Bay from Hold to
// the end of the part of the day in which End lies; work goes from Start to End.
type Planned struct {
	Truck string
	Stage string          // id of the stage; for a wish inside a visit: stage id, "." and wish id
	Hold  calendar.Moment // when the bay is taken: Start, or earlier by Stage.HoldBefore
	Start calendar.Moment // first working minute
	End   calendar.Moment // end of work, exclusive
	Bay   string          // named bay, "" for none
}

// What a plan makes of a visit.
const (
	Kept   = "kept"   // on the day it was booked for
	Moved  = "moved"  // confirmed or tentative, on another day
	Placed = "placed" // requested, now with a day
	Broken = "broken" // held on no day: to be agreed anew
)

// PlannedVisit is the outcome of one visit.
type PlannedVisit struct {
	Visit   string
	Outcome string
	Day     calendar.Date // first day of the visit; calendar.None when broken
	Bay     string        // where the truck stands
}

// Status says what is known of a plan.
type Status string

// The four statuses. A plan that ran out of time is Feasible, never Optimal.
const (
	Optimal    Status = "optimal"    // no better plan exists, proven in every tier
	Feasible   Status = "feasible"   // obeys every rule; a better one may exist
	Infeasible Status = "infeasible" // proven: no plan obeys the rules
	Unknown    Status = "unknown"    // neither a plan nor a proof
)

// A TierValue is the value a plan has in one tier, and the proven lower bound.
type TierValue struct {
	Name  string
	Value int64
	Bound int64
}

// The tiers in order. Each is proven before the next counts.
const (
	TierFrozen    = "frozen"    // frozen visits broken
	TierConfirmed = "confirmed" // confirmed visits moved, other visits broken
	TierDeadlines = "deadlines" // hard deadlines missed
	TierDamages   = "damages"   // liquidated damages, dollars
	TierLateness  = "lateness"  // weighted calendar days late against contract delivery
	TierWishes    = "wishes"    // tentative visits moved, preferred weekdays missed
	TierCalm      = "calm"      // near work disturbed, days a finished truck waits
)

// TierNames lists the tiers in order.
var TierNames = []string{TierFrozen, TierConfirmed, TierDeadlines, TierDamages, TierLateness, TierWishes, TierCalm}
