package plant

import "wetdown/calendar"

// Kinds of measure on the price list of a plant.
const (
	SaturdayShift = "saturday_shift" // a department and its crews work on one Saturday
	ExtraHeads    = "extra_heads"    // a crew has more heads for some days
	HiredBay      = "hired_bay"      // one more bay of a kind for some days
	AskCustomer   = "ask_customer"   // a customer is asked to move a confirmed visit
	ShorterBuffer = "shorter_buffer" // one truck is shown sooner after its last certificate, if somebody approves
	FlyLater      = "fly_later"      // a delegation that has bought travel flies some days later
	PayDamages    = "pay_damages"    // a truck is delivered some days later, and damages are paid by its contract
)

// A Measure is a line of the price list: what the plant can do when a promise is in
// danger, and what it costs. It says nothing about a date or a truck; Actions works
// out where and when it can be taken.
type Measure struct {
	ID         string
	Kind       string
	Name       string           // for people; "": that of the kind
	Department string           // SaturdayShift; "": every department that works on trucks by the hour or drives them
	Crew       string           // ExtraHeads; "": the crews that drive trucks to their customers
	BayKind    string           // HiredBay: what the bay can be used as
	Customer   string           // AskCustomer, FlyLater; "": any
	Approver   string           // ShorterBuffer: role of who must agree
	WorkDays   int              // ShorterBuffer: full working days that are left of the buffer
	Heads      int              // ExtraHeads: how many more
	Days       int              // ExtraHeads, HiredBay: for so many calendar days; FlyLater, PayDamages: at most so many days later
	LeadDays   int              // a dated measure begins at the earliest so many calendar days after now
	Weeks      int              // and at the latest in so many weeks
	Shifts     []calendar.Shift // SaturdayShift; empty: the first shift of the department's last working day before
	Dollars    int              // for taking it at all
	PerDay     int              // dollars more for each of its days
	PerHead    int              // dollars more for each head: of the delegation, or of those added
}

// An Action is a measure taken at one place on one day.
type Action struct {
	Measure    string        // id of the measure
	Kind       string        // of the measure
	Department string        // SaturdayShift
	Crew       string        // ExtraHeads
	BayKind    string        // HiredBay
	Truck      string        // AskCustomer, ShorterBuffer, FlyLater, PayDamages
	Visit      string        // AskCustomer, FlyLater
	Customer   string        // AskCustomer, FlyLater, PayDamages
	Approver   string        // ShorterBuffer
	WorkDays   int           // ShorterBuffer: days that are left
	Heads      int           // ExtraHeads: heads more; AskCustomer, FlyLater: of the delegation
	Days       int           // FlyLater, PayDamages: so many days later than promised
	From       calendar.Date // first day; FlyLater: the new day of the visit; PayDamages: the last day of delivery
	Through    calendar.Date // last day, where it lasts
	Shifts     []calendar.Shift
	Dollars    int64 // what it costs; PayDamages: nothing but what the contract asks, which is counted as damages
}

// measureUses lists the keys that belong to each kind of measure.
var measureUses = map[string][]string{
	SaturdayShift: {"department", "shifts", "lead_days", "weeks", "dollars"},
	ExtraHeads:    {"crew", "heads", "days", "lead_days", "weeks", "dollars", "dollars_per_day", "dollars_per_head"},
	HiredBay:      {"bay_kind", "days", "lead_days", "weeks", "dollars", "dollars_per_day"},
	AskCustomer:   {"customer", "dollars", "dollars_per_head"},
	ShorterBuffer: {"approver", "work_days", "dollars"},
	FlyLater:      {"customer", "days", "dollars", "dollars_per_day", "dollars_per_head"},
	PayDamages:    {"days"},
}

// measureNeeds lists those among them that must be there.
var measureNeeds = map[string][]string{
	HiredBay:      {"bay_kind"},
	ShorterBuffer: {"approver"},
}

// What the keys of a measure are when they are absent.
const (
	standardMeasureDays  = 1
	standardMeasureHeads = 1
	standardLeadDays     = 2
	standardWeeks        = 4
)
