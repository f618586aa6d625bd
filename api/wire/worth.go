package wire

import (
	"wetdown/solver"
	"wetdown/solver/plant"
)

// A Worth says whose day hurts most if it is lost, and what one more would buy.
type Worth struct {
	Status   plant.Status `json:"status"` // of the best plan for the plant as it stands
	Tiers    []Tier       `json:"tiers"`  // of that plan
	Better   bool         `json:"better"` // it is better than the plan in force
	Days     []Stake      `json:"days"`   // a working day lost, what hurts most first
	More     []Stake      `json:"more"`   // one more, what helps most first
	None     []string     `json:"none"`   // who has no day to lose
	Asked    int          `json:"asked"`  // plannings of the whole plant
	Ended    bool         `json:"ended"`  // time ran out
	Reasons  []string     `json:"reasons"`
	Seconds  float64      `json:"seconds"`
	Warnings []Warning    `json:"warnings"`
}

// A Stake is one thing that may happen, or may be bought.
type Stake struct {
	Kind       string  `json:"kind"` // of the slip or of the measure
	Truck      *string `json:"truck"`
	Stage      *string `json:"stage"`
	Bay        *string `json:"bay"`
	BayKind    *string `json:"bay_kind"`
	Crew       *string `json:"crew"`
	Department *string `json:"department"`
	From       *string `json:"from"`
	Through    *string `json:"through"`

	Status    plant.Status   `json:"status"`
	Solved    bool           `json:"solved"` // a planning was made for it
	Exact     bool           `json:"exact"`  // every difference is proven
	Less      bool           `json:"less"`   // not planned: proven to hurt no more than as many of the worst as were asked for
	Untouched bool           `json:"untouched"`
	Tiers     []Difference   `json:"tiers"`
	Price     *int64         `json:"price"` // dollars by the price list; null: none there
	Times     int            `json:"times"` // how often the measure is taken for that
	Saturdays int            `json:"saturdays"`
	Best      bool           `json:"best"`  // none of the Saturdays gains more: proven
	Moved     []Move         `json:"moved"` // by the plan found
	Delivers  []DeliveryMove `json:"deliveries"`
	Calls     []Call         `json:"calls"`
	Reasons   []string       `json:"reasons"`
	Title     string         `json:"title"`
	Sentence  string         `json:"sentence"`
}

// A Difference is how a tier changes. Of the best plans it lies between at_least and
// at_most; null: nothing is proven of it.
type Difference struct {
	Name    string `json:"name"`
	Before  int64  `json:"before"`
	After   int64  `json:"after"`
	AtLeast *int64 `json:"at_least"`
	AtMost  *int64 `json:"at_most"`
}

// ToWorth writes what was found for p in so many seconds.
func ToWorth(p *plant.Plant, r *solver.Worth, seconds float64) Worth {
	to := func(s solver.Stake) Stake { return ToStake(p, &s) }
	return Worth{
		Status: r.Status, Tiers: Each(r.Before, ToTier), Better: r.Better, Days: Each(r.Days, to), More: Each(r.More, to), None: Texts(r.None),
		Asked: r.Asked, Ended: r.Ended, Reasons: Texts(r.Reasons), Seconds: Micro(seconds), Warnings: []Warning{},
	}
}

// ToStake writes one of them.
func ToStake(p *plant.Plant, s *solver.Stake) Stake {
	w := Stake{
		Status: s.Status, Solved: s.Solved, Exact: s.Exact(), Less: s.Less, Untouched: s.Untouched, Times: s.Times, Saturdays: s.Choice, Best: s.Best,
		Moved: []Move{}, Delivers: []DeliveryMove{}, Calls: []Call{}, Reasons: Texts(s.Reasons), Title: s.Title(p), Sentence: s.Sentence(p),
		Tiers: Each(s.Tiers, func(t solver.TierStake) Difference {
			d := Difference{t.Name, t.Before, t.After, &t.AtLeast, &t.AtMost}
			if t.Open {
				d.AtLeast, d.AtMost = nil, nil
			}
			return d
		}),
	}
	if x := s.Slip; x != nil {
		w.Kind, w.Truck, w.Stage, w.Bay, w.Crew, w.From, w.Through = x.Kind, Text(x.Truck), Text(x.Stage), Text(x.Bay), Text(x.Crew), Day(x.Over.From), Day(x.Over.Through)
	}
	if a := s.Action; a != nil {
		w.Kind, w.BayKind, w.Crew, w.Department, w.From, w.Through = a.Kind, Text(a.BayKind), Text(a.Crew), Text(a.Department), Day(a.From), Day(a.Through)
	}
	if s.Price >= 0 {
		w.Price = &s.Price
	}
	if s.Impact != nil {
		m := ToImpact(s.Impact)
		w.Moved, w.Delivers, w.Calls = m.Moved, m.Deliveries, m.Calls
	}
	return w
}
