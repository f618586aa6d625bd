package history

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/chance"
	"wetdown/solver/plant"
)

// Options say how a history is read.
type Options struct {
	Days         Days          // nil: Weekdays
	HalfLifeDays int           // calendar days after which what was said counts half; 0: DefaultHalfLife
	Route        []plant.Stage // for three-point estimates where too little is alike; empty: none
	DayMinutes   int           // working minutes of a day, for the route; 0: 480
	Seed         uint64        // with which estimates of the route are drawn
}

// DefaultHalfLife is two years.
const DefaultHalfLife = 730

// Enough is how many trucks that are alike make a class. Below it a wider class is
// taken (common practice, no source).
const Enough = 8

// A projection is compared with those whose lead is within this factor of its own,
// after a week is added to both. Slips are stretched by the leads' ratio to the
// power of stretch.
const (
	leadWeek   = 5
	leadFactor = 3.0
	stretch    = 0.5
)

// A History answers questions from events.
type History struct {
	o      Options
	byWhat map[string][]record // in the order of Said
	whats  []string            // sorted
	events []Event
	unsaid int // events without a day on which they were said
}

// A record is an event, counted.
type record struct {
	*Event
	truck int // number of the truck
	lead  int // working days
	slip  int // working days; 0 while it is to come
}

// New takes the events in. They stay as they are, and nobody may change them
// afterwards.
func New(events []Event, o Options) *History {
	if o.Days == nil {
		o.Days = Weekdays{}
	}
	if o.HalfLifeDays <= 0 {
		o.HalfLifeDays = DefaultHalfLife
	}
	if o.DayMinutes <= 0 {
		o.DayMinutes = 480
	}
	h := &History{o: o, byWhat: map[string][]record{}, events: events}
	trucks := map[string]int{}
	for i := range events {
		e := &events[i]
		if e.Said == calendar.None || e.Projected == calendar.None {
			h.unsaid++
			continue
		}
		if _, ok := trucks[e.Truck]; !ok {
			trucks[e.Truck] = len(trucks)
		}
		r := record{Event: e, truck: trucks[e.Truck], lead: h.lead(e.Said, e.Projected)}
		if e.Actual != calendar.None {
			r.slip = o.Days.Between(e.Projected, e.Actual)
		}
		if h.byWhat[e.What] == nil {
			h.whats = append(h.whats, e.What)
		}
		h.byWhat[e.What] = append(h.byWhat[e.What], r)
	}
	slices.Sort(h.whats)
	for _, w := range h.whats {
		slices.SortStableFunc(h.byWhat[w], func(a, b record) int {
			return cmp.Or(cmp.Compare(a.Said, b.Said), cmp.Compare(a.Truck, b.Truck), cmp.Compare(a.Projected, b.Projected))
		})
	}
	return h
}

func (h *History) lead(said, projected calendar.Date) int {
	return max(0, h.o.Days.Between(said, projected))
}

// scale is how widely slips of a lead spread.
func scale(lead int) float64 { return math.Pow(float64(lead+leadWeek), stretch) }

// A Question asks how far a projection will slip.
type Question struct {
	What, Kind, Content string
	Owner               string        // "": whosever doing; else slips on this clock alone
	On                  calendar.Date // day on which it is asked, and projected: what came before is known
	Projected           calendar.Date
}

// A Basis is what an estimate rests on.
type Basis string

// The bases, the narrowest first.
const (
	ByKind    Basis = "kind"    // trucks of the same kind and work content
	ByContent Basis = "content" // trucks of the same work content
	ByEvent   Basis = "event"   // all trucks
	ByRoute   Basis = "route"   // three-point estimates of the route
	ByFew     Basis = "few"     // fewer than Enough trucks, and no estimates
	ByNothing Basis = "nothing"
)

// Bases lists them.
var Bases = []Basis{ByKind, ByContent, ByEvent, ByRoute, ByFew, ByNothing}

// An Estimate is how far a projection may slip.
type Estimate struct {
	Question Question
	Law      *chance.Empirical // slip in whole working days, positive for late; nil by nothing
	Basis    Basis
	Trucks   int // alike, with their outcome known
	Open     int // projections among those alike whose day is to come

	LeadFrom, LeadThrough int     // working days ahead of those that are compared with
	Owners                []Share // of what has happened, in the order of Owners, then of those unknown
}

// A Share is what slipped on one clock.
type Share struct {
	Owner  string // "": nobody wrote it down
	Events int
	Share  float64 // of the weight of all events
	Mean   float64 // slip in working days
}

// Ask answers a question. What is alike is the narrowest of: same event, kind and
// content; same event and content; same event, of which Enough trucks have their
// outcome. Weights halve with every half-life since it was said, and fall off with
// the distance of the leads.
func (h *History) Ask(q Question) Estimate {
	e := Estimate{Question: q, Basis: ByNothing}
	lead := h.lead(q.On, q.Projected)
	e.LeadFrom = max(0, int(math.Ceil(float64(lead+leadWeek)/leadFactor))-leadWeek)
	e.LeadThrough = int(float64(lead+leadWeek)*leadFactor) - leadWeek
	var alike []record
	for _, r := range h.byWhat[q.What] {
		if r.Said >= q.On {
			break
		}
		if r.lead >= e.LeadFrom && r.lead <= e.LeadThrough && (q.Owner == "" || q.Owner == r.Owner) {
			alike = append(alike, r)
		}
	}
	for _, c := range []struct {
		basis Basis
		in    func(record) bool
	}{
		{ByKind, func(r record) bool { return q.Kind != "" && r.Kind == q.Kind && r.Content == q.Content }},
		{ByContent, func(r record) bool { return q.Content != "" && r.Content == q.Content }},
		{ByEvent, func(record) bool { return true }},
	} {
		var class []record
		for _, r := range alike {
			if c.in(r) {
				class = append(class, r)
			}
		}
		n, open := known(class, q.On)
		if n >= Enough || c.basis == ByEvent {
			e.Basis, e.Trucks, e.Open = c.basis, n, open
			alike = class
			break
		}
	}
	if e.Trucks < Enough {
		if law := h.threePoint(q); law != nil {
			e.Basis, e.Law = ByRoute, law
			return e
		}
		if e.Basis = ByFew; e.Trucks == 0 {
			e.Basis = ByNothing
			return e
		}
	}
	if e.Law = h.law(alike, q.On, lead); e.Law == nil { // all of it has faded
		e.Basis = ByNothing
		return e
	}
	e.Owners = h.shares(alike, q.On)
	return e
}

// happened reports whether the outcome was known on a day.
func (r record) happened(on calendar.Date) bool { return r.Actual != calendar.None && r.Actual < on }

// known counts the trucks whose outcome is known on a day, and the projections
// that are open.
func known(list []record, on calendar.Date) (trucks, open int) {
	seen := map[int]bool{}
	for _, r := range list {
		if r.happened(on) {
			seen[r.truck] = true
		} else {
			open++
		}
	}
	return len(seen), open
}

// weight is how much a record counts for a lead on a day.
func (h *History) weight(r record, on calendar.Date, lead int) float64 {
	apart := math.Abs(math.Log(float64(r.lead+leadWeek) / float64(lead+leadWeek)))
	near := 1 - apart/math.Log(leadFactor*1.05) // those at the ends count a little as well
	return max(0, near) * math.Exp2(-float64(on-r.Said)/float64(h.o.HalfLifeDays))
}

// law is the law of slips by Kaplan and Meier: what is open by the day is known to
// slip at least so far, and hands its weight on to all that slipped further. What
// is left beyond the last outcome lies on the longest slip there is, which may be
// of one that is open.
func (h *History) law(list []record, on calendar.Date, lead int) *chance.Empirical {
	type seen struct {
		slip, weight float64
		open         bool
	}
	all := make([]seen, 0, len(list))
	risk := 0.0
	for _, r := range list {
		s := seen{slip: float64(r.slip), weight: h.weight(r, on, lead), open: !r.happened(on)}
		if s.open {
			s.slip = float64(h.o.Days.Between(r.Projected, on))
		}
		s.slip *= scale(lead) / scale(r.lead)
		if s.weight > 0 {
			all = append(all, s)
			risk += s.weight
		}
	}
	slices.SortStableFunc(all, func(a, b seen) int {
		if c := cmp.Compare(a.slip, b.slip); c != 0 || a.open == b.open {
			return c
		} else if a.open {
			return 1
		}
		return -1
	})
	values, masses := make([]float64, 0, len(all)), make([]float64, 0, len(all))
	left := 1.0
	for i, s := range all {
		mass := 0.0
		switch {
		case i == len(all)-1:
			mass = left
		case !s.open:
			mass = left * s.weight / max(risk, s.weight)
		}
		if mass > 0 {
			values = append(values, max(math.Round(s.slip), -float64(lead)))
			masses = append(masses, mass)
		}
		left -= mass
		risk -= s.weight
	}
	law, err := chance.NewEmpirical(values, masses)
	if err != nil {
		return nil
	}
	return law
}

// shares tells whose clock it was.
func (h *History) shares(list []record, on calendar.Date) (shares []Share) {
	total := 0.0
	for _, owner := range append(slices.Clone(Owners), "") {
		s := Share{Owner: owner}
		for _, r := range list {
			if r.Owner == owner && r.happened(on) {
				w := math.Exp2(-float64(on-r.Said) / float64(h.o.HalfLifeDays))
				s.Events++
				s.Share += w
				s.Mean += w * float64(r.slip)
			}
		}
		if s.Events > 0 {
			total += s.Share
			s.Mean /= max(s.Share, math.SmallestNonzeroFloat64)
			shares = append(shares, s)
		}
	}
	for i := range shares {
		shares[i].Share /= max(total, math.SmallestNonzeroFloat64)
	}
	return shares
}

// Day returns the working day that holds with chance p, calendar.None by nothing.
func (h *History) Day(e Estimate, p float64) calendar.Date {
	if e.Law == nil {
		return calendar.None
	}
	return h.o.Days.Add(e.Question.Projected, int(e.Law.Quantile(p)))
}

// Sentences say for people what the estimate rests on and what it means.
func (e Estimate) Sentences() []string {
	what := spoken(e.Question.What)
	class := map[Basis]string{
		ByKind:    "trucks of the kind " + spoken(e.Question.Kind) + " and " + e.Question.Content + " work content",
		ByContent: "trucks of " + e.Question.Content + " work content, of all kinds",
		ByEvent:   "trucks of all kinds and work contents",
		ByFew:     "trucks of all kinds and work contents",
	}[e.Basis]
	alike := fmt.Sprintf("%s whose %s was projected %d to %d working days ahead", class, what, e.LeadFrom, e.LeadThrough)
	var list []string
	switch e.Basis {
	case ByNothing:
		return []string{fmt.Sprintf("Nothing is known of how far the %s slips. Take in a history of past projections, or a route with three-point estimates.", what)}
	case ByRoute:
		list = append(list, fmt.Sprintf("Fewer than %d trucks are alike (%d), so this rests on the three-point estimates of the route, and on no experience.", Enough, e.Trucks))
	case ByFew:
		list = append(list, fmt.Sprintf("Only %d %s are known: too few to trust, and the route has no estimates for it.", e.Trucks, alike))
	default:
		list = append(list, fmt.Sprintf("This rests on %d %s.", e.Trucks, alike))
	}
	if e.Open > 0 && e.Basis != ByRoute {
		list = append(list, fmt.Sprintf("%d more projections of such trucks are open, and count as later than today.", e.Open))
	}
	list = append(list, fmt.Sprintf("Half of them come %s, 80%% %s, 95%% %s.", late(e.Law.Quantile(0.5)), late(e.Law.Quantile(0.8)), late(e.Law.Quantile(0.95))))
	for _, s := range e.Owners {
		who := s.Owner
		if who == "" {
			who = "nobody that was written down"
		}
		list = append(list, fmt.Sprintf("On the clock of %s: %.0f%% of them, %.1f working days in the mean.", who, 100*s.Share, s.Mean))
	}
	return list
}

func late(days float64) string {
	switch {
	case days > 0:
		return fmt.Sprintf("at most %.0f working days late", days)
	case days == 0:
		return "on the projected day or before"
	}
	return fmt.Sprintf("at least %.0f working days early", -days)
}
