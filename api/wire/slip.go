package wire

import (
	"wetdown/solver"
	"wetdown/solver/plant"
)

// A Slip is the answer to a slip.
type Slip struct {
	Result
	PlannedFirst *plant.Status `json:"planned_first"` // status of the plan made before the slip when the file had none
	Impact
	Repairs *Repairs `json:"repairs"` // ways out; null with --no-repairs, or when there is no plan
	Taken   *Taken   `json:"taken"`   // with --take: what is in force in the file
}

// An Impact is what a plan changes.
type Impact struct {
	Summary    string         `json:"summary"`
	Happened   []string       `json:"happened"`
	Moved      []Move         `json:"moved"`
	Deliveries []DeliveryMove `json:"deliveries"`
	Disturbed  []Disturbed    `json:"disturbed"`
	Displaced  []Displaced    `json:"displaced"`
	Apart      []string       `json:"moved_apart"` // trucks that move although no chain of displaced leads to them
	Calls      []Call         `json:"calls"`
	Change     []Change       `json:"change"`
	Damages    Damages        `json:"damages"`
}

// A Move is a visit that moves or is broken.
type Move struct {
	Visit    string  `json:"visit"`
	Truck    string  `json:"truck"`
	Customer string  `json:"customer"`
	Kind     string  `json:"kind"`
	State    string  `json:"state"`
	Frozen   bool    `json:"frozen"`
	Heads    int     `json:"heads"`
	Booked   *string `json:"booked"`
	From     *string `json:"from"`
	To       *string `json:"to"`
	WorkDays int     `json:"work_days"`
	Bay      *string `json:"bay"`
	Sentence string  `json:"sentence"`
}

// A DeliveryMove is a delivery that changes.
type DeliveryMove struct {
	Truck          string  `json:"truck"`
	Customer       string  `json:"customer"`
	Due            *string `json:"due"`
	From           *string `json:"from"`
	To             *string `json:"to"`
	WorkDays       int     `json:"work_days"`
	DaysLateBefore int     `json:"days_late_before"`
	DaysLate       int     `json:"days_late"`
	DamagesBefore  int64   `json:"damages_before"`
	Damages        int64   `json:"damages"`
	DeadlineMissed bool    `json:"deadline_missed"`
	Sentence       string  `json:"sentence"`
}

// Disturbed is near work that changes.
type Disturbed struct {
	Truck    string  `json:"truck"`
	Stage    string  `json:"stage"`
	From     *string `json:"from"`
	To       *string `json:"to"`
	FromBay  *string `json:"from_bay"`
	ToBay    *string `json:"to_bay"`
	Sentence string  `json:"sentence"`
}

// Displaced is a link: by, with by_stage, is where truck was to be with stage.
type Displaced struct {
	Step     int     `json:"step"`
	By       *string `json:"by"` // null: a bay is down, a crew is away
	ByStage  *string `json:"by_stage"`
	Truck    string  `json:"truck"`
	Stage    string  `json:"stage"`
	Bay      *string `json:"bay"`
	Crew     *string `json:"crew"`
	At       *string `json:"at"`
	From     *string `json:"from"`
	To       *string `json:"to"`
	Sentence string  `json:"sentence"`
}

// A Call is a customer to be called.
type Call struct {
	By       *string `json:"by"`
	Overdue  bool    `json:"overdue"`
	Truck    string  `json:"truck"`
	Customer string  `json:"customer"`
	Visit    *string `json:"visit"`
	Heads    int     `json:"heads"`
	About    string  `json:"about"`
	Because  string  `json:"because"`
}

// A Change is a tier before and after.
type Change struct {
	Name   string `json:"name"`
	Before int64  `json:"before"`
	After  int64  `json:"after"`
}

// Damages are liquidated damages in all, in dollars.
type Damages struct {
	Before int64 `json:"before"`
	After  int64 `json:"after"`
}

// ToImpact writes what changes.
func ToImpact(m *solver.Impact) (w Impact) {
	w.Summary, w.Happened = m.Summary(), Texts(m.Happened)
	w.Damages = Damages{m.Damages[0], m.Damages[1]}
	w.Moved = Each(m.Visits, func(v solver.VisitMove) Move {
		return Move{v.Visit, v.Truck, v.Customer, v.Kind, v.State, v.Frozen, v.Heads, Day(v.Booked), Day(v.From), Day(v.To), v.WorkDays, Text(v.Bay), v.Sentence()}
	})
	w.Deliveries = Each(m.Deliveries, func(d solver.DeliveryMove) DeliveryMove {
		return DeliveryMove{d.Truck, d.Customer, Day(d.Due), Day(d.From.Day), Day(d.To.Day), d.WorkDays, d.From.Late, d.To.Late, d.From.Damages, d.To.Damages, d.To.Missed, d.Sentence()}
	})
	w.Disturbed = Each(m.Near, func(d solver.Disturbed) Disturbed {
		return Disturbed{d.Truck, d.Stage, Moment(d.From), Moment(d.To), Text(d.FromBay), Text(d.ToBay), d.Sentence()}
	})
	w.Displaced = Each(m.Displaced, func(d solver.Displacement) Displaced {
		return Displaced{d.Step, Text(d.By), Text(d.ByStage), d.Truck, d.Stage, Text(d.Bay), Text(d.Crew), Moment(d.At), Moment(d.From), Moment(d.To), d.Sentence()}
	})
	w.Apart = Each(m.Apart, func(id string) string { return id })
	w.Calls = Each(m.Calls, func(c solver.Call) Call {
		return Call{Day(c.By), c.Overdue, c.Truck, c.Customer, Text(c.Visit), c.Heads, c.About, c.Because}
	})
	w.Change = Each(m.Tiers, func(t solver.TierChange) Change { return Change{t.Name, t.Before, t.After} })
	return w
}
