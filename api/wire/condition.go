package wire

import (
	"wetdown/solver"
	"wetdown/solver/plant"
)

// A Condition is what a person insists on.
type Condition struct {
	Kind       string  `json:"kind"`
	Truck      *string `json:"truck"`
	Than       *string `json:"than"`
	Visit      *string `json:"visit"`
	Department *string `json:"department"`
	Customer   *string `json:"customer"`
	Day        *string `json:"day"`
	From       *string `json:"from"`
	Through    *string `json:"through"`
	Sentence   string  `json:"sentence"`
}

// ToConditions writes conditions on a planning of p.
func ToConditions(p *plant.Plant, list []solver.Condition) []Condition {
	return Each(list, func(c solver.Condition) Condition {
		return Condition{c.Kind, Text(c.Truck), Text(c.Than), Text(c.Visit), Text(c.Department), Text(c.Customer), Day(c.Day), Day(c.Over.From), Day(c.Over.Through), solver.Say(p, c)}
	})
}

// A Contradiction is why no plan obeys the conditions.
type Contradiction struct {
	Conditions []Condition `json:"conditions"`
	Proven     bool        `json:"proven"`
	Plant      bool        `json:"plant"` // no plan even without conditions
	Sentences  []string    `json:"sentences"`
}

// ToContradiction writes a contradiction, nil as null.
func ToContradiction(p *plant.Plant, c *solver.Contradiction) *Contradiction {
	if c == nil {
		return nil
	}
	return &Contradiction{ToConditions(p, c.Conditions), c.Whole, c.Plant, Texts(c.Sentences)}
}
