package plant

import "wetdown/calendar"

// Kinds of condition.
const (
	KeepVisit    = "keep_visit"    // the visits to Truck, or Visit alone, stay where they are; or Visit is on Day
	KeepDelivery = "keep_delivery" // Truck is delivered no later than planned; or than Day
	HoldVisit    = "hold_visit"    // Visit is held, on whatever day
	NoOvertime   = "no_overtime"   // Department works no overtime and on no Saturday or Sunday
	NotBefore    = "not_before"    // no visit of Customer begins before Day
	MoveRather   = "move_rather"   // if a visit must move, that to Truck rather than that to Than, which stays
	NoVisits     = "no_visits"     // no visit takes place on the days Over
)

// A Condition is what a person insists on for one planning. A plan under conditions
// obeys each of them, or there is none. Where a visit is, or a truck is delivered, is
// what the plan in force says, else the booking, else the contract.
type Condition struct {
	Kind       string
	Truck      string        // KeepVisit, KeepDelivery, MoveRather
	Than       string        // MoveRather: the truck whose visits stay
	Visit      string        // KeepVisit, HoldVisit
	Department string        // NoOvertime
	Customer   string        // NotBefore
	Day        calendar.Date // NotBefore; KeepVisit, KeepDelivery: calendar.None for the planned day
	Over       Range         // NoVisits
}

// conditionUses lists the keys that belong to each kind of condition, those that must
// be there first.
var conditionUses = map[string]struct{ needs, may []string }{
	KeepVisit:    {nil, []string{"truck", "visit", "day"}},
	KeepDelivery: {[]string{"truck"}, []string{"day"}},
	HoldVisit:    {[]string{"visit"}, nil},
	NoOvertime:   {[]string{"department"}, nil},
	NotBefore:    {[]string{"customer", "day"}, nil},
	MoveRather:   {[]string{"truck", "than"}, nil},
	NoVisits:     {[]string{"over"}, nil},
}

var conditionKinds = []string{KeepVisit, KeepDelivery, HoldVisit, NoOvertime, NotBefore, MoveRather, NoVisits}

// conditionKeys says which keys a file of conditions has.
func conditionKeys(f form, format *int, conditions *[]Condition) {
	f.put("wetdown", asWhole(format, FormatVersion, FormatVersion), need, "Version of the file format.")
	list(f, "conditions", "", conditions, need, "What the plan must obey beside the rules.", func(f form, c *Condition) {
		f.put("kind", asWord(&c.Kind, conditionKinds), need, "What is asked for.")
		f.put("truck", asRef(&c.Truck, aTruck), free, "The truck: for keep_visit, keep_delivery; for move_rather, the one that may move.")
		f.put("than", asRef(&c.Than, aTruck), free, "The truck whose visits stay: for move_rather.")
		f.put("visit", asRef(&c.Visit, aVisit), free, "One visit: for keep_visit, hold_visit.")
		f.put("department", asRef(&c.Department, aDepartment), free, "The department: for no_overtime.")
		f.put("customer", asRef(&c.Customer, aCustomer), free, "The customer: for not_before.")
		f.put("day", asDate(&c.Day), free, "The day: for not_before. For keep_visit, keep_delivery: in place of the planned day.")
		section(f, "over", c.Over.From != calendar.None || c.Over.Through != calendar.None, free, "The days: for no_visits.", func() { rangeKeys(f, &c.Over) })
	})
}

// ReadConditions reads a file of conditions for the plant, in the manner of Read.
func ReadConditions(name string, data []byte, p *Plant) ([]Condition, []Fault) {
	r, faults := begin(data)
	if r == nil {
		return nil, inFile(name, faults)
	}
	var list []Condition
	format := 0
	conditionKeys(r, &format, &list)
	r.close()
	c := &checker{known: newKnown(p)}
	conditionKeys(c, &format, &list)
	for _, v := range append(c.findings, conditionFindings(p, list)...) {
		if !r.spoils(v.at) {
			r.faults = append(r.faults, v.in(r.root))
		}
	}
	if len(r.faults) > 0 {
		return nil, inFile(name, r.faults)
	}
	return list, nil
}
