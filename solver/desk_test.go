package solver

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

// TestDesk_SameAsCold plays random sequences of slips, plannings, offers, whys,
// bookings and undo at one desk. Every answer must be the one that is worked out from
// nothing for the plant as it stands, and the plant must be what the changes alone
// make of it. Now and then a call is cancelled at once: it changes nothing.
func TestDesk_SameAsCold(t *testing.T) {
	plants := map[string]*plant.Plant{}
	calls := map[string]int{}
	var sum DeskCounts
	rapid.Check(t, func(t *rapid.T) {
		o := generate.Options{
			Trucks: rapid.IntRange(2, 4).Draw(t, "trucks"),
			Seed:   rapid.Uint64Range(1, 12).Draw(t, "seed"),
			Load:   rapid.SampledFrom([]float64{0.8, 1.1}).Draw(t, "load"),
		}
		p := plants[fmt.Sprint(o)]
		if p == nil {
			p = generate.Generate(o)
			r, err := Plan(context.Background(), p, Options{})
			if err != nil || r.Plan == nil {
				t.Fatalf("%v: %v", r, err)
			}
			p.Plan = r.Plan
			plants[fmt.Sprint(o)] = p
		}
		text := plant.Write(p)
		m := &deskModel{calls: calls, facts: p}
		var err error
		if m.desk, err = Open(context.Background(), p, Options{}); err != nil {
			t.Fatal(err)
		}
		t.Repeat(map[string]func(*rapid.T){
			"":       m.same,
			"slip":   m.slip,
			"plan":   m.plan,
			"offers": m.offers,
			"why":    m.why,
			"book":   m.book,
			"undo":   m.undo,
		})
		if !bytes.Equal(text, plant.Write(p)) {
			t.Fatal("the desk changed the plant that it was opened with")
		}
		c := m.desk.Counts()
		sum.QuestionsKept += c.QuestionsKept
		sum.StagesKept += c.StagesKept
		sum.RoutesKept += c.RoutesKept
		sum.ProbersKept += c.ProbersKept
		if err := errors.Join(m.desk.Close(), m.desk.Close()); err != nil {
			t.Fatal(err)
		}
	})
	t.Log(calls, fmt.Sprintf("%+v", sum))
	if sum.QuestionsKept == 0 || sum.StagesKept == 0 || sum.RoutesKept == 0 || sum.ProbersKept == 0 {
		t.Errorf("nothing was taken over: %+v", sum)
	}
}

// deskModel is what the plant must be, by the changes alone.
type deskModel struct {
	desk  *Desk
	facts *plant.Plant // the plan in it counts for nothing
	past  []*plant.Plant
	calls map[string]int
}

// plant is the desk's plant, by the file: nothing is shared with the desk.
func (m *deskModel) plant(t *rapid.T) *plant.Plant {
	p, err := m.desk.Plant()
	if err != nil {
		t.Fatal(err)
	}
	read, faults := plant.Read("desk.yaml", plant.Write(p))
	if len(faults) > 0 {
		t.Fatal(faults[0])
	}
	return read
}

// same compares the desk's plant, plan aside, with the model's.
func (m *deskModel) same(t *rapid.T) {
	is, want := *m.plant(t), *m.facts
	is.Plan, want.Plan = nil, nil
	if a, b := plant.Write(&is), plant.Write(&want); !bytes.Equal(a, b) {
		t.Fatalf("the desk's plant is\n%s\nwant\n%s", a, b)
	}
}

func (m *deskModel) changed(p *plant.Plant) {
	m.past = append(m.past, m.facts)
	m.facts = p
}

// ctx is now and then one that has ended.
func (m *deskModel) ctx(t *rapid.T) (context.Context, bool) {
	if rapid.IntRange(0, 5).Draw(t, "cancelled") > 0 {
		return context.Background(), false
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	m.calls["cancelled"]++
	return ctx, true
}

// aSlip draws something that can happen to the plant.
func aSlip(t *rapid.T, p *plant.Plant) plant.Slip {
	from := p.AsOf.Date().AddDays(rapid.IntRange(0, 10).Draw(t, "from"))
	s := plant.Slip{ID: "X", Over: plant.Range{From: from, Through: from.AddDays(rapid.IntRange(0, 3).Draw(t, "days"))}, Known: p.AsOf.Date()}
	switch s.Kind = rapid.SampledFrom([]string{plant.LineOffMoved, plant.StageOverran, plant.BayDown, plant.CrewAway, plant.CustomerMoves, plant.TestFailed}).Draw(t, "kind"); s.Kind {
	case plant.LineOffMoved:
		s.Truck = rapid.SampledFrom(p.Trucks).Draw(t, "truck").ID
		s.Days = rapid.SampledFrom([]int{-1, 1, 3}).Draw(t, "working days")
	case plant.StageOverran, plant.TestFailed:
		truck := rapid.SampledFrom(p.Trucks).Draw(t, "truck")
		s.Truck, s.Stage = truck.ID, rapid.SampledFrom(p.Route).Draw(t, "stage").ID
		s.Minutes = 60 * rapid.SampledFrom([]int{-2, 3, 16}).Draw(t, "hours")
	case plant.BayDown:
		s.Bay = rapid.SampledFrom(p.Bays).Draw(t, "bay").ID
	case plant.CrewAway:
		s.Crew, s.Heads = rapid.SampledFrom(p.Crews).Draw(t, "crew").ID, 1
	case plant.CustomerMoves:
		v := rapid.SampledFrom(p.Visits).Draw(t, "visit")
		s.Visit = v.ID
		if v.Booking.Day != calendar.None {
			s.Over = plant.Range{From: v.Booking.Day, Through: v.Booking.Day}
		}
	}
	return s
}

func (m *deskModel) slip(t *rapid.T) {
	p := m.plant(t)
	s := aSlip(t, p)
	after, refused := p.Apply([]plant.Slip{s})
	ctx, cancelled := m.ctx(t)
	got, err := m.desk.Slip(ctx, s)
	if (err != nil) != (refused != nil) {
		t.Fatalf("the slip %+v: %v at the desk, %v applied", s, err, refused)
	}
	if err != nil {
		return
	}
	if !cancelled {
		m.calls["slip"]++
		want, err := Replan(context.Background(), after, Options{})
		if err != nil {
			t.Fatal(err)
		}
		sameResult(t, after, got.Result, want)
	}
	if got.Result.Plan == nil {
		return
	}
	facts, err := m.facts.Apply([]plant.Slip{s})
	if err != nil {
		t.Fatal(err)
	}
	m.changed(facts)
	impact, err := Compare(p, after, []plant.Slip{s}, got.Result.Plan)
	if err != nil {
		t.Fatal(err)
	}
	if a, b := fmt.Sprintf("%+v", got.Impact), fmt.Sprintf("%+v", impact); a != b {
		t.Fatalf("the impact is\n%s\nwant\n%s", a, b)
	}
}

// sameResult compares a warm planning with a cold one, and has the judge look at both.
func sameResult(t *rapid.T, p *plant.Plant, got, want *Result) {
	if got.Status != want.Status || !slices.Equal(got.Tiers, want.Tiers) || !slices.Equal(got.Reasons, want.Reasons) {
		t.Fatalf("warm %s %v %v\ncold %s %v %v", got.Status, got.Tiers, got.Reasons, want.Status, want.Tiers, want.Reasons)
	}
	if (got.Plan == nil) != (want.Plan == nil) {
		t.Fatalf("a plan: warm %v, cold %v", got.Plan != nil, want.Plan != nil)
	}
	if got.Plan == nil {
		return
	}
	verdict := check.Plan(p, got.Plan)
	var values []int64
	for _, v := range verdict.Tiers {
		values = append(values, v.Value)
	}
	if !verdict.Right() || !slices.Equal(values, vector(got)) {
		t.Fatalf("the judge says %v and %v of %v", verdict.Broken, values, vector(got))
	}
}

func (m *deskModel) plan(t *rapid.T) {
	p := m.plant(t)
	ctx, cancelled := m.ctx(t)
	got, err := m.desk.Plan(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if !cancelled {
		m.calls["plan"]++
		want, err := Replan(context.Background(), p, Options{})
		if err != nil {
			t.Fatal(err)
		}
		sameResult(t, p, got, want)
	}
	if got.Plan != nil {
		m.changed(m.facts)
	}
}

func (m *deskModel) offers(t *rapid.T) {
	p := m.plant(t)
	truck := rapid.SampledFrom(p.Trucks).Draw(t, "truck").ID
	ctx, cancelled := m.ctx(t)
	got, err := m.desk.Offers(ctx, truck)
	if cancelled {
		if err == nil && len(got.Offers) > 0 {
			t.Fatalf("a call that ended at once offers %v", got.Offers)
		}
		return
	}
	m.calls["offers"]++
	want, refused := Offers(context.Background(), p, truck, Options{})
	if fmt.Sprint(err) != fmt.Sprint(refused) {
		t.Fatalf("%s: %v at the desk, %v cold", truck, err, refused)
	}
	if err != nil {
		return
	}
	if a, b := decided(got), decided(want); a != b {
		t.Fatalf("%s: the desk offers\n%s\ncold\n%s", truck, a, b)
	}
}

// decided writes what is decided of each day.
func decided(l *OfferList) string {
	var s strings.Builder
	fmt.Fprintln(&s, l.Truck, l.Visit, l.Status)
	for _, o := range l.Offers {
		fmt.Fprintln(&s, "yes", o.Day, o.Kept, o.Bay != "", len(o.Trades) > 0)
	}
	for _, r := range l.Refused {
		fmt.Fprintln(&s, "no", r.Day, r.Decided, r.Reason != "")
	}
	return s.String()
}

func (m *deskModel) why(t *rapid.T) {
	p := m.plant(t)
	truck := rapid.SampledFrom(p.Trucks).Draw(t, "truck").ID
	day := p.AsOf.Date().AddDays(rapid.IntRange(5, 60).Draw(t, "day"))
	ctx, cancelled := m.ctx(t)
	got, err := m.desk.Why(ctx, truck, day)
	if cancelled {
		return
	}
	m.calls["why"]++
	want, refused := Why(context.Background(), p, truck, day, Options{})
	if fmt.Sprint(err) != fmt.Sprint(refused) {
		t.Fatalf("%s, %s: %v at the desk, %v cold", truck, say(day), err, refused)
	}
	if err == nil && (got.Visit != want.Visit || got.Possible != want.Possible || got.Status != want.Status || len(got.Reasons) != len(want.Reasons)) {
		t.Fatalf("%s, %s: %+v at the desk, cold %+v", truck, say(day), got, want)
	}
}

func (m *deskModel) book(t *rapid.T) {
	p := m.plant(t)
	v := rapid.SampledFrom(p.Visits).Draw(t, "visit")
	b := plant.Booking{State: plant.Requested, Day: calendar.None, HoldUntil: calendar.None}
	if rapid.Bool().Draw(t, "unbook") {
		if err := m.desk.Unbook(v.ID); (err == nil) != v.Planned() {
			t.Fatalf("%s, %s: %v", v.ID, v.Booking.State, err)
		}
	} else {
		b.State = rapid.SampledFrom([]string{plant.Tentative, plant.Confirmed}).Draw(t, "state")
		b.Day = p.AsOf.Date().AddDays(rapid.IntRange(15, 45).Draw(t, "day"))
		for _, out := range p.Plan.Visits {
			if out.Visit == v.ID && out.Day != calendar.None && rapid.IntRange(0, 3).Draw(t, "elsewhere") > 0 {
				b.Day = out.Day
			}
		}
		b.TravelBought = b.State == plant.Confirmed && rapid.Bool().Draw(t, "travel")
		if err := m.desk.Book(v.ID, b); (err == nil) != v.Planned() {
			t.Fatalf("%s, %s: %v", v.ID, v.Booking.State, err)
		}
	}
	if !v.Planned() {
		return
	}
	m.calls["book"]++
	facts := *m.facts
	facts.Visits = slices.Clone(facts.Visits)
	facts.FindVisit(v.ID).Booking = b
	m.changed(&facts)
}

func (m *deskModel) undo(t *rapid.T) {
	what, err := m.desk.Undo()
	if (err == nil) != (len(m.past) > 0) {
		t.Fatalf("%d changes made, and undo says %q, %v", len(m.past), what, err)
	}
	if err != nil {
		return
	}
	m.calls["undo"]++
	m.facts, m.past = m.past[len(m.past)-1], m.past[:len(m.past)-1]
}
