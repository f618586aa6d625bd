package wire

import (
	"wetdown/solver"
	"wetdown/solver/plant"
)

// Taken is a way out put in force.
type Taken struct {
	Way     int      `json:"way"`
	Actions []Action `json:"actions"`
	Result
}

// Repairs are the ways out.
type Repairs struct {
	Truck    *string  `json:"truck"` // of the goal; null: to keep every promise
	Date     *string  `json:"date"`  // of the goal: the visit to the truck is on it; null: it is delivered by its contract
	Promises int      `json:"promises"`
	Nothing  Repair   `json:"nothing"`
	Repairs  []Repair `json:"repairs"`
	Lost     []string `json:"lost"`
	Measures int      `json:"measures"`
	Asked    int      `json:"asked"`
	Whole    bool     `json:"whole"`
	AtLeast  int64    `json:"at_least"` // dollars; with no way proven to be the cheapest, proven that none costs less, added damages among it; 0: nothing of the kind is known
	Word     string   `json:"word"`
	Seconds  float64  `json:"seconds"`
}

// A Repair is a way out.
type Repair struct {
	Actions  []Action `json:"actions"`
	Cost     int64    `json:"cost"` // dollars, damages not among them
	Damages  int64    `json:"damages"`
	People   int      `json:"people"` // of the promised visits that move or are broken
	Moved    []string `json:"moved"`
	Missed   int      `json:"deadlines_missed"`
	Cheapest bool     `json:"cheapest"`
	Frontier bool     `json:"frontier"`
	Sentence string   `json:"sentence"`
	Plan     *Plan    `json:"plan"`
}

// An Action is a measure taken.
type Action struct {
	Measure  string  `json:"measure"`
	Kind     string  `json:"kind"`
	Truck    *string `json:"truck"`
	Visit    *string `json:"visit"`
	Customer *string `json:"customer"`
	From     *string `json:"from"`
	Through  *string `json:"through"`
	Approver *string `json:"approver"`
	Cost     int64   `json:"cost"`
	Sentence string  `json:"sentence"`
}

// ToActions writes measures taken in p.
func ToActions(p *plant.Plant, list []solver.Action) []Action {
	return Each(list, func(a solver.Action) Action {
		w := Action{a.Measure, a.Kind, Text(a.Truck), Text(a.Visit), Text(a.Customer), Day(a.From), Day(a.Through), Text(a.Approver), a.Dollars, solver.SayAction(p, a)}
		if w.Through == nil && w.Kind != plant.FlyLater && w.Kind != plant.PayDamages { // days that mean nothing are none
			w.From = nil
		}
		return w
	})
}

// ToRepair writes a way out for p.
func ToRepair(p *plant.Plant, r *solver.Repair) Repair {
	w := Repair{
		Actions: ToActions(p, r.Actions),
		Cost:    r.Dollars, Damages: r.Damages, People: r.Heads, Moved: Texts(r.Moved), Missed: r.Missed,
		Cheapest: r.Cheapest, Frontier: r.Frontier, Sentence: r.Sentence(p),
	}
	if r.Plan != nil {
		w.Plan = ToPlan(r.Plant, r.Plan)
	}
	return w
}

// ToRepairs writes the ways out for p, the plant in which all has happened, that were
// found in so many seconds.
func ToRepairs(p *plant.Plant, r *solver.Repairs, seconds float64) Repairs {
	return Repairs{
		Truck: Text(r.Goal.Truck), Date: Day(r.Goal.Day), Promises: r.Promises, Nothing: ToRepair(p, r.Nothing),
		Repairs: Each(r.List, func(x solver.Repair) Repair { return ToRepair(p, &x) }),
		Lost:    Texts(r.Lost), Measures: r.Measures, Asked: r.Asked, Whole: r.Whole, AtLeast: r.AtLeast, Word: r.Word, Seconds: Micro(seconds),
	}
}
