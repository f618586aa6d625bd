package wire

import (
	"wetdown/solver"
	"wetdown/solver/check"
	"wetdown/solver/plant"
)

// A Result is a planning and what came of it.
type Result struct {
	Status  plant.Status `json:"status"`
	Tiers   []Tier       `json:"tiers"`
	Seconds Seconds      `json:"seconds"`
	Counts  Counts       `json:"counts"`
	Broken  []Violation  `json:"broken"`
	Reasons []string     `json:"reasons"` // when infeasible: why
	Plan    *Plan        `json:"plan"`

	Why []Explanation `json:"why,omitempty"` // when asked for: what the plan could not keep

	Conditions    []Condition    `json:"conditions"`    // beside the rules
	Contradiction *Contradiction `json:"contradiction"` // when no plan obeys them
	Cautions      []Hazard       `json:"cautions"`      // for the work in the plan
	Warnings      []Warning      `json:"warnings"`      // of the files read
}

// A Tier is one tier of the score: its value, and what no plan can be below.
type Tier struct {
	Name  string `json:"name"`
	Value *int64 `json:"value"` // null without a plan
	Bound int64  `json:"bound"`
}

// Seconds say how long the parts of a planning took.
type Seconds struct {
	Read   float64 `json:"read"`
	Encode float64 `json:"encode"`
	First  float64 `json:"first"`
	Best   float64 `json:"best"`
	Proof  float64 `json:"proof"`
	Total  float64 `json:"total"`
}

// Counts measure the work.
type Counts struct {
	Trucks    int `json:"trucks"`
	Stages    int `json:"stages"`
	Variables int `json:"variables"`
	Clauses   int `json:"clauses"`
	SATCalls  int `json:"sat_calls"`
	Rounds    int `json:"rounds"`
}

// A Violation is a place in which a plan breaks a rule.
type Violation struct {
	Rule     string  `json:"rule"`
	Truck    *string `json:"truck"`
	Stage    *string `json:"stage"`
	Visit    *string `json:"visit"`
	Bay      *string `json:"bay"`
	Crew     *string `json:"crew"`
	At       *string `json:"at"`
	Sentence string  `json:"sentence"`
}

// ToTier writes a tier.
func ToTier(t plant.TierValue) Tier { return Tier{t.Name, &t.Value, t.Bound} }

// ToViolation writes a broken rule.
func ToViolation(v check.Violation) Violation {
	return Violation{v.Rule, Text(v.Truck), Text(v.Stage), Text(v.Visit), Text(v.Bay), Text(v.Crew), Moment(v.At), v.Sentence}
}

// ToResult writes a planning of p. read is how long it took to read the file, in
// seconds.
func ToResult(p *plant.Plant, r *solver.Result, read float64) Result {
	w := Result{
		Status: r.Status,
		Tiers:  Each(r.Tiers, ToTier),
		Seconds: Seconds{
			Micro(read), Micro(r.Seconds.Encode), Micro(r.Seconds.First),
			Micro(r.Seconds.Best), Micro(r.Seconds.Proof), Micro(read + r.Seconds.Total),
		},
		Counts:   Counts(r.Counts),
		Broken:   Each(r.Broken, ToViolation),
		Reasons:  Texts(r.Reasons),
		Cautions: []Hazard{},
		Warnings: []Warning{},

		Conditions:    []Condition{},
		Contradiction: ToContradiction(p, r.Contradiction),
	}
	if r.Plan != nil {
		w.Plan = ToPlan(p, r.Plan)
		w.Cautions = Each(p.Hazards(r.Plan), ToHazard)
		return w
	}
	for i := range w.Tiers {
		w.Tiers[i].Value = nil
	}
	return w
}
