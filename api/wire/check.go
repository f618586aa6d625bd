package wire

import (
	"wetdown/solver/check"
	"wetdown/solver/plant"
)

// A Check is what the judge says of a plan.
type Check struct {
	Right    bool        `json:"right"`
	Asked    int         `json:"asked"`  // stages, wishes and visits that the plant asks for
	Looked   int         `json:"looked"` // those found in the plan and judged
	Broken   []Violation `json:"broken"`
	Score    []Score     `json:"score"`
	Warnings []Warning   `json:"warnings"`
}

// A Score is the value of one tier.
type Score struct {
	Name  string `json:"name"`
	Value int64  `json:"value"`
}

// ToCheck writes a verdict.
func ToCheck(v check.Verdict) Check {
	return Check{
		v.Right(), v.Asked, v.Looked, Each(v.Broken, ToViolation),
		Each(v.Tiers, func(t plant.TierValue) Score { return Score{t.Name, t.Value} }),
		[]Warning{},
	}
}
