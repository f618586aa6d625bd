package plant

import "wetdown/calendar"

// What can happen.
const (
	LineOffMoved  = "line_off_moved" // Truck, Days: line-off is so many working days of the line later (or earlier)
	StageOverran  = "stage_overran"  // Truck, Stage, Minutes: a running or coming stage needs so much longer
	TestFailed    = "test_failed"    // Truck, Stage: a done or running stage must be repeated
	BayDown       = "bay_down"       // Bay, Days range
	CrewAway      = "crew_away"      // Crew, Heads missing, Days range
	CustomerMoves = "customer_moves" // Visit, Days range in which the customer cannot come after all
)

// A Slip is one thing that happened and that a new plan must answer.
type Slip struct {
	ID      string
	Kind    string
	Truck   string
	Stage   string
	Bay     string
	Crew    string
	Visit   string
	Days    int   // working days, for LineOffMoved
	Minutes int   // working minutes, for StageOverran
	Heads   int   // for CrewAway
	Over    Range // days, for BayDown, CrewAway, CustomerMoves
	Known   calendar.Date
	Cause   string // cause code, free text
	Clock   string // whose clock: plant, supplier, customer
}

// ReadSlip reads one slip: the version of the format and the keys that a slip has in a
// plant file, in the manner of Read. Whether it can have happened is for Apply to say.
func ReadSlip(name string, data []byte, p *Plant) (*Slip, []Fault) {
	r, faults := begin(data)
	if r == nil {
		return nil, inFile(name, faults)
	}
	s, format := &Slip{}, 0
	keys := func(f form) {
		f.put("wetdown", asWhole(&format, FormatVersion, FormatVersion), need, "Version of the file format.")
		slipKeys(f, s)
	}
	keys(r)
	r.close()
	c := &checker{known: newKnown(p)}
	keys(c)
	for _, v := range c.findings {
		if !r.spoils(v.at) {
			r.faults = append(r.faults, v.in(r.root))
		}
	}
	if len(r.faults) > 0 {
		return nil, inFile(name, r.faults)
	}
	return s, nil
}
