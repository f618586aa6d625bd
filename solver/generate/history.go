package generate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"wetdown/calendar"
	law "wetdown/solver/chance"
	"wetdown/solver/history"
	"wetdown/solver/plant"
)

// HistoryOptions say what history to make.
type HistoryOptions struct {
	Trucks int     // at least 1
	Seed   uint64  // equal options give equal histories
	Drift  float64 // by how much slips grow in a year: 0.5 is by half of what they were at first
	Lead   float64 // power of the lead with which slips grow; 0: DefaultLead
}

// DefaultLead makes slips grow with the square root of the lead.
const DefaultLead = 0.5

// MaxHistory bounds the trucks of a history, so that its table can be read again.
const MaxHistory = 3500

// Check returns an error that says which option cannot be had, and what can.
func (o HistoryOptions) Check() error {
	switch {
	case o.Trucks < 1 || o.Trucks > MaxHistory:
		return fmt.Errorf("a history of %d trucks cannot be generated: ask for 1 to %d", o.Trucks, MaxHistory)
	case !(o.Drift >= -0.15 && o.Drift <= 5):
		return fmt.Errorf("a drift of %g a year cannot be generated: ask for -0.15 to 5", o.Drift)
	case !(o.Lead >= 0 && o.Lead <= 1):
		return fmt.Errorf("slips that grow with the lead to the power %g cannot be generated: ask for 0 to 1", o.Lead)
	}
	return nil
}

// historyFrom and historyThrough are the days of the first order and of the report.
var historyFrom, historyThrough = calendar.NewDate(2021, time.January, 4), asOf.Date()

// A Truth is the law by which slips of a history were drawn.
type Truth struct{ o HistoryOptions }

// pasts are the kinds of trucks, with their share and how widely they slip, in
// working days at a lead of a month. The last two are rare.
var pasts = []struct {
	kind, content string
	share, wide   float64
}{
	{"pumper", plant.Medium, 0.34, 4}, {"pumper", plant.Light, 0.16, 2.5}, {"pumper", plant.Heavy, 0.12, 7},
	{"rescue", plant.Medium, 0.1, 6}, {"rescue", plant.Heavy, 0.06, 9}, {"tanker", plant.Light, 0.1, 3},
	{"aerial", plant.Heavy, 0.113, 12}, {"brush", plant.Light, 0.004, 3}, {"command", plant.Heavy, 0.003, 8},
}

// clocks are the owners, with their share and how much wider their slips are.
var clocks = []struct {
	owner       string
	share, wide float64
}{{history.Plant, 0.6, 1}, {history.Supplier, 0.3, 1.8}, {history.Customer, 0.1, 1.3}}

// told are the projections that are made of a truck: of what, about how many
// working days ahead, and how far behind the first day of its order.
var told = []struct {
	what  string
	leads []int
	days  int // working days from the order to the event
	wide  float64
}{
	{history.LineOff, []int{60, 20}, 150, 1},
	{plant.FinalInspection, []int{30}, 175, 0.8},
	{history.Delivery, []int{90, 25}, 190, 1.2},
}

// earliness is where slips begin, in widths below the projection, and spread the
// deviation of the logarithm of what is drawn above that.
const earliness, spread = 0.7, 0.7

// width is how widely slips of a class spread on a day, at a lead.
func (t Truth) width(what, kind, content, owner string, lead int, said calendar.Date) float64 {
	w := math.Pow(float64(lead+5)/26, t.o.Lead) * (1 + t.o.Drift*float64(said-historyFrom)/365)
	for _, p := range pasts {
		if p.kind == kind && p.content == content {
			w *= p.wide
		}
	}
	for _, c := range clocks {
		if c.owner == owner {
			w *= c.wide
		}
	}
	for _, s := range told {
		if s.what == what {
			w *= s.wide
		}
	}
	return w
}

// slip is the slip in working days that luck u between 0 and 1 gives.
func (t Truth) slip(what, kind, content, owner string, lead int, said calendar.Date, u float64) int {
	w := t.width(what, kind, content, owner, lead, said)
	x := w * (law.LogNormal{Sigma: spread}.Quantile(u) - earliness)
	return max(int(math.Round(x)), 1-lead)
}

// CDF returns the chance that such a projection slips by so many working days or
// less; owner "" is whosever doing it is.
func (t Truth) CDF(what, kind, content, owner string, lead int, said calendar.Date, days int) float64 {
	if days < 1-lead {
		return 0
	}
	sum, shares := 0.0, 0.0
	for _, c := range clocks {
		if owner == "" || owner == c.owner {
			w := t.width(what, kind, content, c.owner, lead, said)
			sum += c.share * law.LogNormal{Sigma: spread}.CDF((float64(days)+0.5)/w+earliness)
			shares += c.share
		}
	}
	return sum / shares
}

// History makes what was projected in some years and what came of it, as known on
// the day that generated plants speak of, and the law behind it. The options must
// pass Check.
//
// Each projection slips by the law of its class, owner and lead; those of one truck
// have half of their luck in common. Orders are spread evenly.
func History(o HistoryOptions) ([]history.Event, Truth) {
	if o.Lead == 0 {
		o.Lead = DefaultLead
	}
	t := Truth{o}
	days := history.Weekdays{}
	var list []history.Event
	customers := historyCustomers(law.Stream(o.Seed, 0, "customers"))
	span := int(historyThrough-historyFrom) - 100
	for i := range o.Trucks {
		r := law.Stream(o.Seed, i, "truck")
		class := pasts[index(r, len(pasts), func(k int) float64 { return pasts[k].share })]
		owner := clocks[index(r, len(clocks), func(k int) float64 { return clocks[k].share })].owner
		customer := customers[r.IntN(len(customers))]
		start := historyFrom + calendar.Date(span*i/o.Trucks)
		contract := days.Add(start, told[len(told)-1].days+10+r.IntN(20))
		requested := days.Add(contract, -r.IntN(30))
		luck := r.Float64()
		for _, s := range told {
			actual, before := calendar.None, calendar.None
			for n, lead := range s.leads {
				lead = between(r, lead*2/3, lead*3/2)
				u := luck
				if r.IntN(2) == 0 {
					u = r.Float64()
				}
				var said, projected calendar.Date
				if n == 0 {
					said = days.Add(start, s.days-lead)
					projected = days.Add(said, lead)
					actual = days.Add(projected, t.slip(s.what, class.kind, class.content, owner, lead, said, u))
				} else {
					said, projected = t.back(s.what, class.kind, class.content, owner, lead, actual, u)
				}
				e := history.Event{
					Truck: fmt.Sprintf("P%04d", i+1), Customer: customer, Kind: class.kind, Content: class.content, What: s.what, Owner: owner,
					Said: said, Projected: projected, Actual: actual, Requested: calendar.None, Contract: calendar.None,
				}
				if s.what == history.Delivery {
					e.Requested, e.Contract = requested, contract
				}
				if e.Actual >= historyThrough {
					e.Actual, e.Owner = calendar.None, ""
				}
				if e.Said < historyThrough && e.Said > before { // hardly any would be said again on one day, or in the wrong order
					list = append(list, e)
				}
				before = max(before, e.Said)
			}
		}
	}
	return list, t
}

// back finds the projection, made so far ahead, that luck lets slip to the day
// on which it happens.
func (t Truth) back(what, kind, content, owner string, lead int, actual calendar.Date, u float64) (said, projected calendar.Date) {
	days := history.Weekdays{}
	projected = days.Add(actual, -t.slip(what, kind, content, owner, lead, actual-calendar.Date(lead*7/5), u))
	return days.Add(projected, -lead), projected
}

// index draws an index by shares, which sum to 1.
func index(r *rand.Rand, n int, share func(int) float64) int {
	u := r.Float64()
	for k := range n - 1 {
		if u -= share(k); u < 0 {
			return k
		}
	}
	return n - 1
}

// historyCustomers are the departments that ordered.
func historyCustomers(r *rand.Rand) []string {
	list := towns(r, 40)
	for i := range list {
		list[i] = fmt.Sprintf(departmentForms[i%len(departmentForms)], list[i])
	}
	slices.Sort(list)
	return list
}
