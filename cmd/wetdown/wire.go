package main

import (
	"math"

	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/check"
	"wetdown/solver/plant"
)

// What machines read. Days are YYYY-MM-DD and moments YYYY-MM-DDTHH:MM of the
// plant's own clock; what is absent is null.

type wireResult struct {
	Status  plant.Status    `json:"status"`
	Tiers   []wireTier      `json:"tiers"`
	Seconds wireSeconds     `json:"seconds"`
	Counts  wireCounts      `json:"counts"`
	Broken  []wireViolation `json:"broken"`
	Reasons []string        `json:"reasons"` // when infeasible: why
	Plan    *wirePlan       `json:"plan"`

	Why []wireExplanation `json:"why,omitempty"` // when asked for: what the plan could not keep

	Conditions    []wireCondition    `json:"conditions"`    // beside the rules
	Contradiction *wireContradiction `json:"contradiction"` // when no plan obeys them
	Cautions      []wireHazard       `json:"cautions"`      // for the work in the plan
	Warnings      []wireWarning      `json:"warnings"`      // of the files read
}

type wireTier struct {
	Name  string `json:"name"`
	Value *int64 `json:"value"` // null without a plan
	Bound int64  `json:"bound"`
}

type wireSeconds struct {
	Read   float64 `json:"read"`
	Encode float64 `json:"encode"`
	First  float64 `json:"first"`
	Best   float64 `json:"best"`
	Proof  float64 `json:"proof"`
	Total  float64 `json:"total"`
}

type wireCounts struct {
	Trucks    int `json:"trucks"`
	Stages    int `json:"stages"`
	Variables int `json:"variables"`
	Clauses   int `json:"clauses"`
	SATCalls  int `json:"sat_calls"`
}

type wireViolation struct {
	Rule     string  `json:"rule"`
	Truck    *string `json:"truck"`
	Stage    *string `json:"stage"`
	Visit    *string `json:"visit"`
	Bay      *string `json:"bay"`
	Crew     *string `json:"crew"`
	At       *string `json:"at"`
	Sentence string  `json:"sentence"`
}

type wirePlan struct {
	Revision   int            `json:"revision"`
	Plant      string         `json:"plant"`
	Made       *string        `json:"made"`
	Program    string         `json:"program"`
	Seed       uint64         `json:"seed"`
	Stages     []wireStage    `json:"stages"`
	Visits     []wireVisit    `json:"visits"`
	Deliveries []wireDelivery `json:"deliveries"`
}

type wireStage struct {
	Truck string  `json:"truck"`
	Stage string  `json:"stage"`
	Hold  *string `json:"hold"`
	Start *string `json:"start"`
	End   *string `json:"end"`
	Bay   *string `json:"bay"`
}

type wireVisit struct {
	Visit   string  `json:"visit"`
	Truck   string  `json:"truck"`
	Kind    string  `json:"kind"`
	State   string  `json:"state"`
	Heads   int     `json:"heads"`
	Booked  *string `json:"booked"`
	Outcome string  `json:"outcome"`
	Day     *string `json:"day"`
	Bay     *string `json:"bay"`
}

type wireDelivery struct {
	Truck          string  `json:"truck"`
	Customer       string  `json:"customer"`
	Due            *string `json:"due"`
	Day            *string `json:"day"`
	DaysLate       int     `json:"days_late"`
	Damages        int64   `json:"damages"`
	Deadline       *string `json:"deadline"`
	DeadlineMissed bool    `json:"deadline_missed"`
}

// day, moment and text make null of what is absent.

func day(d calendar.Date) *string { return text(d.String()) }

func moment(m calendar.Moment) *string { return text(m.String()) }

func text(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

// each applies a function to every element; the result is never null.
func each[T, W any](list []T, to func(T) W) []W {
	out := make([]W, len(list))
	for i, v := range list {
		out[i] = to(v)
	}
	return out
}

// texts is a list as it is; the result is never null.
func texts(list []string) []string { return append([]string{}, list...) }

func toTier(t plant.TierValue) wireTier { return wireTier{t.Name, &t.Value, t.Bound} }

// micro rounds seconds to millionths.
func micro(seconds float64) float64 { return math.Round(seconds*1e6) / 1e6 }

func toViolation(v check.Violation) wireViolation {
	return wireViolation{v.Rule, text(v.Truck), text(v.Stage), text(v.Visit), text(v.Bay), text(v.Crew), moment(v.At), v.Sentence}
}

// result writes a planning of p. read is how long it took to read the file.
func (s *session) result(p *plant.Plant, r *solver.Result, read float64) wireResult {
	w := wireResult{
		Status: r.Status,
		Tiers:  each(r.Tiers, toTier),
		Seconds: wireSeconds{
			micro(read), micro(r.Seconds.Encode), micro(r.Seconds.First),
			micro(r.Seconds.Best), micro(r.Seconds.Proof), micro(read + r.Seconds.Total),
		},
		Counts:   wireCounts(r.Counts),
		Broken:   each(r.Broken, toViolation),
		Reasons:  texts(r.Reasons),
		Cautions: []wireHazard{},
		Warnings: s.warned(),

		Conditions:    []wireCondition{},
		Contradiction: toContradiction(p, r.Contradiction),
	}
	if r.Plan != nil {
		w.Plan = toPlan(p, r.Plan)
		w.Cautions = each(p.Hazards(r.Plan), toHazard)
		return w
	}
	for i := range w.Tiers {
		w.Tiers[i].Value = nil
	}
	return w
}

func toPlan(p *plant.Plant, plan *plant.Plan) *wirePlan {
	return &wirePlan{
		Revision: plan.Revision, Plant: plan.Plant, Made: moment(plan.Made), Program: plan.Program, Seed: plan.Seed,
		Stages: each(plan.Stages, func(r plant.Planned) wireStage {
			return wireStage{r.Truck, r.Stage, moment(r.Hold), moment(r.Start), moment(r.End), text(r.Bay)}
		}),
		Visits: each(plan.Visits, func(r plant.PlannedVisit) wireVisit {
			w := wireVisit{Visit: r.Visit, Outcome: r.Outcome, Day: day(r.Day), Bay: text(r.Bay)}
			if v := p.FindVisit(r.Visit); v != nil {
				w.Truck, w.Kind, w.State, w.Heads, w.Booked = v.Truck, v.Kind, v.Booking.State, v.Heads, day(v.Booking.Day)
			}
			return w
		}),
		Deliveries: each(solver.Deliveries(p, plan), toDelivery),
	}
}

func toDelivery(d solver.Delivery) wireDelivery {
	return wireDelivery{d.Truck, d.Customer, day(d.Due), day(d.Day), d.Late, d.Damages, day(d.Deadline), d.Missed}
}
