package wire

import (
	"wetdown/solver"
	"wetdown/solver/plant"
)

// Offers are the days that can be offered, and those that cannot.
type Offers struct {
	Truck    string       `json:"truck"`
	Visit    string       `json:"visit"`
	Status   plant.Status `json:"status"`
	Offers   []Offer      `json:"offers"`
	Refused  []Refused    `json:"refused"`
	Warnings []Warning    `json:"warnings"`
	Repairs  []Repairs    `json:"repairs"` // with --repairs: what would make each refused day possible

	Conditions []Condition `json:"conditions"`
	Given      []string    `json:"given"` // what the conditions change, whatever day is chosen
}

// An Offer is a day that can be offered.
type Offer struct {
	Date     *string `json:"date"`
	Weekday  string  `json:"weekday"`
	Position *string `json:"position"`
	Kept     bool    `json:"kept"`

	Trades []Trade `json:"trades"` // trucks that pay other damages in a plan with this day; empty where nobody needs to pay more
}

// A Trade is a truck that pays other damages.
type Trade struct {
	Truck   string `json:"truck"`
	Before  int64  `json:"damages_before"`
	Damages int64  `json:"damages"`
}

// Refused is a day that cannot be offered.
type Refused struct {
	Date    *string `json:"date"`
	Decided bool    `json:"decided"`
	Reason  string  `json:"reason"`
	Costs   []Tier  `json:"costs"`
}

// ToOffers writes the days on offer of a truck of p under conditions.
func ToOffers(p *plant.Plant, list *solver.OfferList, conditions []solver.Condition) Offers {
	return Offers{
		Truck: list.Truck, Visit: list.Visit, Status: list.Status,
		Offers: Each(list.Offers, func(o solver.Offer) Offer {
			return Offer{Day(o.Day), o.Day.Weekday().String(), Text(o.Bay), o.Kept, Each(o.Trades, func(t solver.Trade) Trade { return Trade{t.Truck, t.From, t.To} })}
		}),
		Refused: Each(list.Refused, func(r solver.Refused) Refused {
			return Refused{Day(r.Day), r.Decided, r.Reason, Each(r.Costs, ToTier)}
		}),
		Warnings:   []Warning{},
		Repairs:    []Repairs{},
		Conditions: ToConditions(p, conditions),
		Given:      Texts(list.Given),
	}
}
