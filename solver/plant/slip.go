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
