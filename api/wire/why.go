package wire

import (
	"wetdown/solver"
	"wetdown/solver/plant"
)

// An Explanation says whether something can be, and if not, why.
type Explanation struct {
	About       string       `json:"about"` // day, broken, moved, late
	Truck       string       `json:"truck"`
	Visit       *string      `json:"visit"`
	Date        *string      `json:"date"` // asked for, booked, of the contract or the deadline
	Possible    bool         `json:"possible"`
	Status      plant.Status `json:"status"`
	Sentence    string       `json:"sentence"`
	Reasons     []string     `json:"reasons"`
	Helps       []string     `json:"helps"`
	Grounds     []Reason     `json:"grounds"`     // the reasons, one for one
	Irreducible bool         `json:"irreducible"` // proven: none can be left out
	Smallest    bool         `json:"smallest"`    // proven: no set of reasons weighs less
	Note        string       `json:"note"`        // what is not proven
	SATCalls    int          `json:"sat_calls"`
}

// A Reason is one of the things that together stand in the way.
type Reason struct {
	Kind     string   `json:"kind"`
	Sentence string   `json:"sentence"`
	Help     *string  `json:"help"`
	Truck    *string  `json:"truck"`
	Visit    *string  `json:"visit"`
	Stage    *string  `json:"stage"`
	Crew     *string  `json:"crew"`
	Bays     []string `json:"bays"`
	From     *string  `json:"from"`
	Through  *string  `json:"through"`
}

// Why is the answer about one day.
type Why struct {
	Explanation
	Conditions []Condition `json:"conditions"`
	Given      []string    `json:"given"`   // what the conditions change, whatever day is chosen
	Repairs    []Repairs   `json:"repairs"` // with --repairs: what would make the day possible
	Taken      *Taken      `json:"taken"`   // with --take: what is in force in the file
	Warnings   []Warning   `json:"warnings"`
}

// Causes say why the plan in force does what it does to one truck.
type Causes struct {
	Truck        string        `json:"truck"`
	Plan         *int          `json:"plan"` // revision of the plan in force; null: it was made now
	Explanations []Explanation `json:"explanations"`
	Conditions   []Condition   `json:"conditions"`
	Warnings     []Warning     `json:"warnings"`
	Repairs      *Repairs      `json:"repairs"` // with --repairs: what would deliver a late truck in time
	Taken        *Taken        `json:"taken"`   // with --take: what is in force in the file
}

// ToExplanation writes an explanation.
func ToExplanation(x *solver.Explanation) Explanation {
	return Explanation{
		About: x.About, Truck: x.Truck, Visit: Text(x.Visit), Date: Day(x.Day), Possible: x.Possible, Status: x.Status,
		Sentence: x.Sentence, Reasons: Texts(x.Reasons), Helps: Texts(x.Helps),
		Grounds: Each(x.Grounds, func(r solver.Reason) Reason {
			return Reason{r.Kind, r.Sentence, Text(r.Help), Text(r.Truck), Text(r.Visit), Text(r.Stage), Text(r.Crew), Texts(r.Bays), Day(r.From), Day(r.Through)}
		}),
		Irreducible: x.Sharp, Smallest: x.Least, Note: x.Note, SATCalls: x.Calls,
	}
}

// ToWhy writes the answer about one day for a visit to a truck of p under conditions.
func ToWhy(p *plant.Plant, x *solver.Explanation, conditions []solver.Condition) Why {
	return Why{ToExplanation(x), ToConditions(p, conditions), Texts(x.Given), nil, nil, []Warning{}}
}
