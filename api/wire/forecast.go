package wire

import (
	"wetdown/calendar"
	"wetdown/solver/forecast"
)

// A Chance is the share of simulated runs in which something came true, from 0 to 1.
type Chance struct {
	Share float64 `json:"share"`
	Error float64 `json:"standard_error"`
	Low   float64 `json:"low"` // of the interval at the confidence
	High  float64 `json:"high"`
}

// ToChance writes a chance.
func ToChance(c forecast.Chance) Chance { return Chance{c.Share, c.Error, c.Low, c.High} }

// A Basis is what simulated answers rest on: the same plant, runs and seed give the same.
type Basis struct {
	Revision    int      `json:"revision"` // of the plan in force
	Runs        int      `json:"runs"`
	Seed        uint64   `json:"seed"`
	Confidence  float64  `json:"confidence"` // of intervals
	Assumptions []string `json:"assumptions"`
}

func toBasis(b forecast.Basis) Basis {
	return Basis{b.Revision, b.Runs, b.Seed, forecast.Confidence, Texts(b.Assumptions)}
}

// A Span tells the days on or before which something happens with a chance; null: not
// within the days looked at.
type Span struct {
	Earliest *string `json:"earliest"`
	P50      *string `json:"p50"`
	P80      *string `json:"p80"`
	P95      *string `json:"p95"`
}

func toSpan(s forecast.Span) Span { return Span{Day(s.Earliest), Day(s.P50), Day(s.P80), Day(s.P95)} }

// QuoteOdds are the odds of a would-be order.
type QuoteOdds struct {
	Basis
	Enters    *string    `json:"enters"` // the line
	LineOff   Span       `json:"line_off"`
	Ready     Span       `json:"ready"`  // for the visit
	Booked    *string    `json:"booked"` // day for which the visit is taken to be booked
	Outside   bool       `json:"outside_windows"`
	Visit     Span       `json:"visit"`
	Held      *Chance    `json:"held"` // that the visit takes place on that day; null without one
	Delivery  Span       `json:"delivery"`
	Delivered []Arrivals `json:"delivered"` // each day on which some run delivers
	From      *string    `json:"window_from"`
	Through   *string    `json:"window_through"`
	Sampled   int        `json:"sampled"` // runs behind what follows
	Earlier   []Variant  `json:"earlier"`
	Drivers   []Driver   `json:"drivers"`
}

// Arrivals is in how many of the runs something has happened by the end of a day.
type Arrivals struct {
	Day  *string `json:"date"`
	Runs int     `json:"runs"`
}

// A Variant is another way to fill the order.
type Variant struct {
	Kind    string  `json:"kind"`
	Name    string  `json:"name"`
	Days    float64 `json:"days_earlier"`
	Error   float64 `json:"standard_error"`
	P80     *string `json:"p80"`
	Dollars int64   `json:"dollars"`
	PerDay  float64 `json:"dollars_per_day"` // 0 where nothing is gained
}

// A Driver is a part of chance, with the share of the variance that goes with it.
type Driver struct {
	Name  string  `json:"name"`
	Share float64 `json:"share"`
}

// ToQuoteOdds writes the odds of a would-be order; nil for none.
func ToQuoteOdds(q *forecast.Quote) *QuoteOdds {
	if q == nil {
		return nil
	}
	out := &QuoteOdds{
		Basis: toBasis(q.Basis), Enters: Day(q.Enters), LineOff: toSpan(q.LineOff), Ready: toSpan(q.Ready),
		Booked: Day(q.Booked), Outside: q.Outside, Visit: toSpan(q.Visit), Delivery: toSpan(q.Delivery),
		Delivered: Each(q.Delivered, func(a forecast.Arrivals) Arrivals { return Arrivals{Day(a.Day), a.Runs} }),
		From:      Day(q.Window.From), Through: Day(q.Window.Through), Sampled: q.Sampled,
		Earlier: Each(q.Earlier, func(v forecast.Variant) Variant {
			return Variant{v.Kind, v.Name, v.Days, v.Error, Day(v.P80), v.Dollars, v.PerDay}
		}),
		Drivers: Each(q.Drivers, func(d forecast.Driver) Driver { return Driver{d.Name, d.Share} }),
	}
	if out.Booked != nil {
		held := ToChance(q.Held)
		out.Held = &held
	}
	return out
}

// A QuoteWithOdds is a quote with what chance makes of it; null without a plan in force.
type QuoteWithOdds struct {
	Quote
	Odds *QuoteOdds `json:"odds"`
}

// DayChances say how likely a truck is ready for its visit on the days on offer.
type DayChances struct {
	Basis
	SafeFrom *string     `json:"safe_from"` // first day on which it is with 80 %
	Days     []DayChance `json:"days"`
}

// A DayChance is that of one day.
type DayChance struct {
	Date *string `json:"date"`
	Chance
}

// ToDayChances writes the chances of the days on offer; nil for none.
func ToDayChances(list Offers, d *forecast.Days, chances []forecast.Chance) *DayChances {
	if d == nil {
		return nil
	}
	out := &DayChances{Basis: toBasis(d.Basis), SafeFrom: Day(d.SafeFrom), Days: []DayChance{}}
	for i, o := range list.Offers {
		out.Days = append(out.Days, DayChance{o.Date, ToChance(chances[i])})
	}
	return out
}

// OffersWithChances are the days on offer with their chances; null without a plan in force.
type OffersWithChances struct {
	Offers
	Chances *DayChances `json:"chances"`
}

// Readiness is how likely all visits and deliveries of a plant are.
type Readiness struct {
	Basis
	Visits     []VisitOdds    `json:"visits"`
	Deliveries []DeliveryOdds `json:"deliveries"`
	Warnings   []Warning      `json:"warnings"`
}

// VisitOdds are those of one visit.
type VisitOdds struct {
	Visit     string  `json:"visit"`
	Truck     string  `json:"truck"`
	State     string  `json:"state"`
	Date      *string `json:"date"`
	Certified Chance  `json:"certified"`
	Ready     Chance  `json:"ready"`
	Held      Chance  `json:"held"`
	SafeFrom  *string `json:"safe_from"`
	Unsafe    bool    `json:"unsafe"`
}

// DeliveryOdds are those of one delivery.
type DeliveryOdds struct {
	Truck   string  `json:"truck"`
	Planned *string `json:"planned"`
	Due     *string `json:"due"`
	P50     *string `json:"p50"`
	P80     *string `json:"p80"`
	P95     *string `json:"p95"`
	OnTime  Chance  `json:"on_time"`
}

// ToReadiness writes the odds of a plant.
func ToReadiness(o *forecast.Odds) Readiness {
	return Readiness{
		Basis: toBasis(o.Basis),
		Visits: Each(o.Visits, func(v forecast.VisitOdds) VisitOdds {
			return VisitOdds{v.Visit, v.Truck, v.State, Day(v.Day), ToChance(v.Certified), ToChance(v.Ready), ToChance(v.Held), Day(v.SafeFrom), v.Unsafe}
		}),
		Deliveries: Each(o.Deliveries, func(d forecast.DeliveryOdds) DeliveryOdds {
			return DeliveryOdds{d.Truck, Day(d.Planned), Day(d.Due), Day(d.P50), Day(d.P80), Day(d.P95), ToChance(d.OnTime)}
		}),
		Warnings: []Warning{},
	}
}

// ToChances writes chances of days that were written one by one.
func ToChances(b forecast.Basis, safeFrom calendar.Date, days []DayChance) DayChances {
	return DayChances{toBasis(b), Day(safeFrom), days}
}

// ToDayChance writes the chance of one day.
func ToDayChance(day calendar.Date, c forecast.Chance) DayChance {
	return DayChance{Day(day), ToChance(c)}
}
