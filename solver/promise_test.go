package solver

import (
	"context"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

// inForce is a generated plant with its best plan in force.
func inForce(t *testing.T, o generate.Options) *plant.Plant {
	t.Helper()
	p := generate.Generate(o)
	p.Plan = optimal(t, p).Plan
	return p
}

// bound writes the promises of the plan in force into a plant without one, in such
// a way that the first three tiers cost nothing if and only if all are kept: visits
// that keep their day become frozen on it, and each delivery gets a hard deadline
// on the last day that breaks no promise. Visits of no day in the plan are
// cancelled. With strict, every visit keeps its day and every delivery its contract
// or the plan's day; else only the confirmed ones, and deliveries the deadlines they
// have.
// The own visit is left to the caller.
func bound(t *testing.T, p *plant.Plant, own string, strict bool) *plant.Plant {
	t.Helper()
	q := copied(t, p)
	q.Plan = nil
	for _, out := range p.Plan.Visits {
		v := q.FindVisit(out.Visit)
		switch {
		case v.ID == own || slices.ContainsFunc(q.FindTruck(v.Truck).Running, func(r plant.Running) bool { return q.FindStage(r.Stage).Visit == v.Kind }):
		case out.Outcome == plant.Broken:
			v.Booking = plant.Booking{State: plant.Cancelled, Day: calendar.None, HoldUntil: calendar.None}
		case strict || v.Booking.State == plant.Confirmed:
			freeze(v, out.Day)
		}
	}
	for _, d := range Deliveries(p, p.Plan) {
		c := &q.FindTruck(d.Truck).Contract
		if d.Day == calendar.None {
			continue
		}
		last := calendar.None
		if strict {
			last = max(d.Day, c.Due)
		}
		if c.Deadline != calendar.None && !d.Missed && (last == calendar.None || c.Deadline < last) {
			last = c.Deadline
		}
		c.Deadline = last
	}
	return q
}

func freeze(v *plant.Visit, day calendar.Date) {
	v.Booking = plant.Booking{State: plant.Confirmed, Day: day, HoldUntil: calendar.None, TravelBought: true}
}

// kept plans under conditions, and reports whether all of the promises that bound wrote
// are kept, at damages of so much in all at the most.
func kept(t *testing.T, p *plant.Plant, most int64, conditions ...Condition) bool {
	t.Helper()
	r, err := Plan(context.Background(), p, Options{Conditions: conditions})
	if err != nil {
		t.Fatal(err)
	}
	if r.Status == plant.Infeasible {
		return false
	}
	proven(t, p, r)
	v := vector(r)
	return v[0] == 0 && v[1] == 0 && v[2] == 0 && v[3] <= most
}

// asked are plants whose offers are looked at day by day: some crowded.
var asked = []generate.Options{
	{Trucks: 4, Seed: 12, Load: 1},
	{Trucks: 6, Seed: 6, Load: 1},
	{Trucks: 8, Seed: 16, Load: 1.1},
	{Trucks: 12, Seed: 12, Load: 1},
	{Trucks: 7, Seed: 4, Load: 0.9, LinedUp: true},
}

// TestOffers_Exact asks, for every day of the windows of a visit, whether a plan has
// the visit on this day and keeps all promises: by a planning of its own, in which
// the promises are frozen visits and hard deadlines. It must be so for the days that
// are offered and for no other. Why must say the same, and why not.
func TestOffers_Exact(t *testing.T) {
	offered, refused, crowded := 0, 0, 0
	for _, o := range asked[:3] {
		p := inForce(t, o)
		for i := range p.Trucks {
			truck := p.Trucks[i].ID
			list, err := Offers(context.Background(), p, truck, Options{})
			if err != nil {
				if _, none := err.(*NoVisit); !none {
					t.Fatal(err)
				}
				continue
			}
			if list.Status != plant.Optimal {
				t.Errorf("%s: the offers are %s", truck, list.Status)
			}
			standing, err := newSitting(p).explained(context.Background(), truck)
			if err != nil {
				t.Fatal(err)
			}
			visit := p.FindVisit(list.Visit)
			q := bound(t, p, visit.ID, false)
			days, damages := 0, int64(0)
			for _, d := range Deliveries(p, p.Plan) {
				damages += d.Damages
			}
			for day := p.AsOf.Date(); day <= p.Horizon.Through; day++ {
				in := slices.ContainsFunc(visit.Windows, func(r plant.Range) bool { return r.Contains(day) })
				yes := slices.IndexFunc(list.Offers, func(o Offer) bool { return o.Day == day })
				no := slices.IndexFunc(list.Refused, func(r Refused) bool { return r.Day == day })
				if !in || yes >= 0 && no >= 0 {
					if yes >= 0 || no >= 0 {
						t.Errorf("%s, %s: offered (%v) or refused (%v), and in a window: %v", truck, say(day), yes >= 0, no >= 0, in)
					}
					continue
				}
				weekend := day.Weekday() == 0 || day.Weekday() == 6
				if !weekend {
					days++
				}
				if days > 2 && weekend || days > 8 && days%5 != 0 {
					continue // every day at first, then some: plannings take time
				}
				onDay := *q
				onDay.Visits = slices.Clone(q.Visits)
				v := onDay.FindVisit(visit.ID)
				freeze(v, day)
				booked := visit.Booking.State != plant.Requested && visit.Booking.Day == day
				may := booked || !p.Frozen(visit) && day >= p.AsOf.Date().AddDays(p.Buffer.NoticeDays)
				want := may && kept(t, &onDay, damages)
				if (yes >= 0) != want {
					t.Errorf("%+v, %s, %s: offered is %v, and a plan that keeps all promises: %v", o, truck, say(day), yes >= 0, want)
				}
				why, err := standing.why(context.Background(), day)
				if err != nil {
					t.Fatal(err)
				}
				if !why.Possible && (!why.Sharp || len(why.Reasons) != len(why.Grounds)) {
					t.Errorf("%s, %s: the reasons are not proven to be needed, all of them: %q (%s)", truck, say(day), why.Reasons, why.Note)
				}
				switch {
				case why.Status != plant.Optimal || why.Possible != (yes >= 0) || why.Visit != list.Visit:
					t.Errorf("%s, %s: why says possible: %v (%s), and offered is %v", truck, say(day), why.Possible, why.Status, yes >= 0)
				case yes >= 0:
					offered++
					offer := list.Offers[yes]
					if b := p.FindBay(offer.Bay); b == nil || !b.Takes("floor", &p.Trucks[i]) {
						t.Errorf("%s, %s: offered in %q, which does not take the truck", truck, say(day), offer.Bay)
					}
					if offer.Kept != booked || !strings.Contains(why.Sentence, "can be shown") {
						t.Errorf("%s, %s: kept is %v; %s", truck, say(day), offer.Kept, why.Sentence)
					}
				default:
					refused++
					if len(why.Reasons) == 0 || strings.Join(why.Reasons, "") == "" || !strings.Contains(why.Sentence, "cannot be shown") {
						t.Errorf("%s, %s: refused for %q: %s", truck, say(day), why.Reasons, why.Sentence)
					}
					if no >= 0 && (list.Refused[no].Reason == "" || !list.Refused[no].Decided) {
						t.Errorf("%s, %s: refused without a reason, or not decided", truck, say(day))
					}
					if no < 0 && !weekend {
						t.Errorf("%s, %s: neither offered nor refused", truck, say(day))
					}
					if len(why.Reasons) > 1 {
						crowded++
					}
				}
			}
		}
	}
	t.Log(offered, "days offered,", refused, "refused,", crowded, "of them for several reasons together")
	if offered < 30 || refused < 30 || crowded < 10 {
		t.Error("this tests too little")
	}
}

// TestOffers_Trades asks for the visit of A2 in the house of impact_test.go, whose one
// floor is shown to A1 all Monday and to A2 all Tuesday; both are late at $250 a day.
// If they change places, A1 pays $250 more and A2 $250 less. For A2 at a lower rate
// they cannot.
func TestOffers_Trades(t *testing.T) {
	for _, c := range []struct {
		rate   string
		offers []calendar.Date
		trades string
		why    string
	}{
		{"250", []calendar.Date{calendar.NewDate(2027, 6, 7), calendar.NewDate(2027, 6, 8)}, "[{A1 Merrinfell Fire Department 6500 6750} {A2 Ostragarth Fire District 6750 6500}]",
			"A2 can be shown on Mon 2027-06-07: no other confirmed visit moves and damages do not grow in all. In one such plan A1 pays $250 more and A2 pays $250 less."},
		{"200", []calendar.Date{calendar.NewDate(2027, 6, 8)}, "", ""},
	} {
		p := readPlant(t, tradePlant(c.rate))
		p.Plan = optimal(t, p).Plan
		list, err := Offers(context.Background(), p, "A2", Options{})
		if err != nil {
			t.Fatal(err)
		}
		var days []calendar.Date
		trades := ""
		for _, o := range list.Offers {
			days = append(days, o.Day)
			if len(o.Trades) > 0 {
				trades += fmt.Sprint(o.Trades)
			}
		}
		if !slices.Equal(days, c.offers) || trades != c.trades {
			t.Errorf("at $%s a day: offered on %v with %q, want %v with %q", c.rate, days, trades, c.offers, c.trades)
		}
		x, err := Why(context.Background(), p, "A2", calendar.NewDate(2027, 6, 7), Options{})
		if err != nil {
			t.Fatal(err)
		}
		if x.Possible != (c.why != "") || x.Possible && x.Sentence != c.why {
			t.Errorf("at $%s a day: %v, %s", c.rate, x.Possible, x.Sentence)
		}
	}
}

// tradePlant is the house of impact_test.go with A1 and A2 both late.
func tradePlant(rate string) string {
	text, _, _ := strings.Cut(impactPlant, "plan:\n")
	return strings.NewReplacer(
		"contract: {due: 2027-06-02, damages_dollars_per_day: 250, damages_cap_dollars: 1000}", "contract: {due: 2027-05-13, damages_dollars_per_day: 250}",
		"id: A2, customer: C2, kind: pumper, content: medium, length_ft: 32, height_ft: 10, contract: {due: 2027-06-30}", "id: A2, customer: C2, kind: pumper, content: medium, length_ft: 32, height_ft: 10, contract: {due: 2027-05-13, damages_dollars_per_day: "+rate+"}",
		"heads: 3, halves: 1, windows: [{from: 2027-05-10, through: 2027-07-30}], booking: {state: confirmed, day: 2027-05-28}", "heads: 3, halves: 2, windows: [{from: 2027-06-07, through: 2027-06-08}], weekdays: [mon], booking: {state: requested}",
		"heads: 2, halves: 1, windows: [{from: 2027-05-10, through: 2027-07-30}], booking: {state: tentative, day: 2027-06-15}", "heads: 2, halves: 2, windows: [{from: 2027-06-07, through: 2027-06-08}], weekdays: [tue], booking: {state: requested}",
	).Replace(text)
}

// TestWhy_Sentences reads what Why says of some days of the visit to A2 in the house of
// impact_test.go, whose one floor is taken for a day. UPDATE=1 writes the sentences anew.
func TestWhy_Sentences(t *testing.T) {
	p := readPlant(t, strings.NewReplacer(
		"heads: 2, halves: 1, windows: [{from: 2027-05-10, through: 2027-07-30}]", "heads: 2, halves: 1, windows: [{from: 2027-05-10, through: 2027-06-18}], blackouts: [{from: 2027-06-10, through: 2027-06-10, reason: parade}]",
		"heads: 3, halves: 1,", "heads: 3, halves: 2,",
		"end: 2027-05-28T11:00", "end: 2027-05-28T15:00",
	).Replace(impactPlant))
	var got strings.Builder
	for _, day := range []calendar.Date{
		calendar.NewDate(2027, 5, 12), // nearer than the days of notice
		calendar.NewDate(2027, 5, 27),
		calendar.NewDate(2027, 5, 28), // the floor is taken all day by a confirmed visit
		calendar.NewDate(2027, 5, 31), // Memorial Day
		calendar.NewDate(2027, 6, 5),  // a Saturday
		calendar.NewDate(2027, 6, 10), // the customer is away
		calendar.NewDate(2027, 6, 15), // booked
		calendar.NewDate(2027, 6, 21), // in no window
		calendar.NewDate(2028, 1, 3),  // beyond the horizon
	} {
		x, err := Why(context.Background(), p, "A2", day, Options{})
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&got, "%s\n", x.Sentence)
		for _, r := range x.Reasons {
			fmt.Fprintf(&got, "  reason: %s\n", r)
		}
		for _, h := range x.Helps {
			fmt.Fprintf(&got, "  help: %s\n", h)
		}
		if x.Possible == (len(x.Reasons) > 0) {
			t.Errorf("%s: possible: %v, with %d reasons", say(day), x.Possible, len(x.Reasons))
		}
		if day == calendar.NewDate(2027, 6, 21) && !strings.Contains(strings.Join(x.Reasons, " "), "windows") {
			t.Errorf("%s lies in no window, and the reasons do not say so: %q", say(day), x.Reasons)
		}
	}
	const file = "testdata/why.golden"
	if os.Getenv("UPDATE") != "" {
		if err := os.WriteFile(file, []byte(got.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got.String() != string(want) {
		t.Errorf("the sentences have changed; look at the difference and run UPDATE=1 go test:\n%s", got.String())
	}
}

// TestQuote_Earliest orders a truck like one in the plant, to enter the line behind
// all others. By plannings of its own, with every promise a frozen visit or a hard
// deadline: delivered by the quoted day, all are kept; by the day before, they
// cannot be.
func TestQuote_Earliest(t *testing.T) {
	quoted := 0
	for _, o := range asked {
		p := inForce(t, o)
		for _, like := range []int{0, len(p.Trucks) / 2} {
			order := Order{Truck: p.Trucks[like]}
			order.Truck.ID = "Q1"
			order.Truck.Done, order.Truck.Running, order.Truck.Overruns = nil, nil, nil
			enters := p.AsOf.Date() + 21
			for _, other := range p.Trucks {
				enters = max(enters, other.Line.Enters+7)
			}
			order.Truck.Line = plant.Place{Since: calendar.None, Off: calendar.None, Enters: enters}
			order.Truck.Contract = plant.Contract{Due: p.Horizon.Through, Deadline: calendar.None, Weight: 1}
			order.Visit = plant.Visit{ID: "QV1", Truck: "Q1", Kind: plant.FinalInspection, Heads: 3, Halves: 2, TravelDays: 1}
			r, err := Quote(context.Background(), p, order, Options{})
			if err != nil {
				t.Fatal(err)
			}
			if r.Status != plant.Optimal {
				t.Logf("%+v, like %s: %s: %v", o, p.Trucks[like].ID, r.Status, r.Sentences)
				continue
			}
			quoted++
			if r.Delivery != r.Bound || r.Visit == calendar.None || r.Visit >= r.Delivery || r.LineOff >= r.Visit {
				t.Errorf("line-off %s, visit %s, delivery %s, bound %s", say(r.LineOff), say(r.Visit), say(r.Delivery), say(r.Bound))
			}
			q := bound(t, p, "", true)
			v := order.Visit
			v.Windows = []plant.Range{{From: p.AsOf.Date(), Through: p.Horizon.Through}}
			v.Booking = plant.Booking{State: plant.Requested, Day: calendar.None, HoldUntil: calendar.None}
			q.Visits = append(q.Visits, v)
			for _, c := range []struct {
				by   calendar.Date
				want bool
			}{{r.Delivery, true}, {r.Delivery - 1, false}} {
				with := *q
				truck := order.Truck
				truck.Contract.Deadline = c.by
				with.Trucks = append(slices.Clone(q.Trucks), truck)
				if got := kept(t, &with, 1<<40); got != c.want {
					t.Errorf("%+v, like %s: quoted %s; delivered by %s with all promises kept: %v", o, p.Trucks[like].ID, say(r.Delivery), say(c.by), got)
				}
			}
		}
	}
	if quoted < 5 {
		t.Errorf("%d orders were quoted: this tests too little", quoted)
	}
}
