package solver

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
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
// bookings, undo and plants that others have made at one desk. Every answer must be the one that is worked out from
// nothing for the plant as it stands, and the plant must be what the changes alone
// make of it. Now and then a call is cancelled at once: it changes nothing.
func TestDesk_SameAsCold(t *testing.T) {
	if f := flag.Lookup("rapid.checks"); f.Value.String() == f.DefValue { // give -rapid.checks for more
		was := f.DefValue
		must(t, flag.Set("rapid.checks", "5"))
		defer flag.Set("rapid.checks", was)
	}
	plants := map[string]*plant.Plant{}
	calls := map[string]int{}
	var sum DeskCounts
	rapid.Check(t, func(t *rapid.T) {
		o := generate.Options{
			Trucks: rapid.IntRange(2, 4).Draw(t, "trucks"),
			Seed:   rapid.Uint64Range(1, 12).Draw(t, "seed"),
			Load:   rapid.SampledFrom([]float64{0.8, 1.1}).Draw(t, "load"),

			LinedUp: rapid.Bool().Draw(t, "lined up"),
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
			"follow": m.follow,
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
	want, refused := Offers(context.Background(), p, truck, Options{})
	if cancelled { // what it found at once must be true all the same
		for _, o := range offered(got, err) {
			if !slices.ContainsFunc(want.Offers, func(w Offer) bool { return w.Day == o.Day }) {
				t.Fatalf("%s: a call that ended at once offers %s, which is refused cold", truck, o.Day)
			}
		}
		return
	}
	m.calls["offers"]++
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

func offered(l *OfferList, err error) []Offer {
	if err != nil {
		return nil
	}
	return l.Offers
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

// follow has the desk go on with a plant of which somebody else has changed something.
// It shares no memory with the desk's.
func (m *deskModel) follow(t *rapid.T) {
	p := m.plant(t)
	what := rapid.SampledFrom([]string{"nothing", "plan", "truck", "heads", "bay", "notice", "customer", "wish", "horizon", "visit", "as of", "no plan"}).Draw(t, "what")
	n := rapid.IntRange(0, 100).Draw(t, "which")
	switch what {
	case "plan":
		r, err := Replan(context.Background(), p, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if r.Plan != nil {
			p.Plan = r.Plan
		}
	case "truck":
		p.Trucks[n%len(p.Trucks)].Contract.DamagesPerDay += 100
	case "heads":
		p.Crews[n%len(p.Crews)].Size++
	case "bay":
		b := &p.Bays[n%len(p.Bays)]
		day := p.AsOf.Date().AddDays(20 + n%10)
		b.Closures = append(b.Closures, plant.Range{From: day, Through: day.AddDays(1)})
	case "notice":
		p.Buffer.NoticeDays = n % 5
	case "customer":
		p.Customers[n%len(p.Customers)].Miles += 200
	case "wish":
		p.Wishes = nil
	case "horizon":
		p.Horizon.Through = p.Horizon.Through.AddDays(7)
	case "visit":
		p.Visits[n%len(p.Visits)].Heads++
	case "as of":
		p.AsOf += 60
	case "no plan":
		p.Plan = nil
	}
	if faults := plant.Validate(p); len(faults) > 0 {
		return
	}
	m.calls["follow "+what]++
	err := m.desk.Follow(context.Background(), p)
	if p.Plan == nil && err != nil {
		if cold, again := Open(context.Background(), p, Options{}); again == nil {
			cold.Close()
			t.Fatalf("%v at the desk, and not at another one", err)
		}
		return
	}
	if err != nil {
		t.Fatal(err)
	}
	m.facts, m.past = p, nil
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// TestDesk_Kept asserts what each change keeps and what it drops, by the counts.
func TestDesk_Kept(t *testing.T) {
	var p *plant.Plant
	visit := "" // a requested one
	for seed := uint64(1); visit == ""; seed++ {
		p = generate.Generate(generate.Options{Trucks: 6, Seed: seed, Load: 0.8})
		if i := slices.IndexFunc(p.Visits, func(v plant.Visit) bool {
			return v.Kind == plant.FinalInspection && v.Booking.State == plant.Requested
		}); i >= 0 {
			visit = p.Visits[i].ID
		}
	}
	p.Plan = optimal(t, p).Plan
	ctx := context.Background()
	d, err := Open(ctx, p, Options{})
	must(t, err)
	stages := d.Counts().Stages
	truck := p.FindVisit(visit).Truck
	offers := func() *OfferList {
		t.Helper()
		list, err := d.Offers(ctx, truck)
		must(t, err)
		return list
	}
	step := func(what string, do func(), want DeskCounts) {
		t.Helper()
		was := d.Counts()
		do()
		is := d.Counts()
		got := DeskCounts{is.Questions - was.Questions, is.QuestionsKept - was.QuestionsKept, is.Stages - was.Stages, 0, 0, is.Probers - was.Probers, is.ProbersKept - was.ProbersKept}
		if got != want {
			t.Errorf("%s: %+v, want %+v", what, got, want)
		}
	}
	step("the first offers", func() { offers() }, DeskCounts{QuestionsKept: 1, Probers: 1})
	step("offers again", func() { offers() }, DeskCounts{QuestionsKept: 1, ProbersKept: 1})
	step("offers of another truck", func() {
		_, err := d.Offers(ctx, shown(t, p, truck))
		must(t, err)
	}, DeskCounts{QuestionsKept: 1, ProbersKept: 1})
	day := calendar.None
	for _, out := range p.Plan.Visits {
		if out.Visit == visit {
			day = out.Day
		}
	}
	kept := d.Counts().StagesKept
	step("a tentative booking, then offers: the same plans are right, the session stays", func() {
		must(t, d.Book(visit, plant.Booking{State: plant.Tentative, Day: day, HoldUntil: calendar.None}))
		offers()
	}, DeskCounts{Questions: 1, Stages: stages, ProbersKept: 1})
	if now := d.Counts().StagesKept - kept; now < stages/2 || now >= stages {
		t.Errorf("a booking takes %d of %d stages over, want all but those of one truck", now, stages)
	}
	step("undo: what was known is there again", func() {
		what, err := d.Undo()
		must(t, err)
		if what != "the booking of "+visit {
			t.Errorf("undone: %q", what)
		}
		offers()
	}, DeskCounts{QuestionsKept: 1, ProbersKept: 1})
	step("a new plan, then offers: the session stays", func() {
		_, err := d.Plan(ctx)
		must(t, err)
		offers()
	}, DeskCounts{Questions: 1, QuestionsKept: 1, Stages: stages, ProbersKept: 1})
	step("a slip, then offers: another session", func() {
		_, err := d.Slip(ctx, plant.Slip{ID: "S", Kind: plant.BayDown, Bay: "floor-1", Over: plant.Range{From: day, Through: day}, Known: p.AsOf.Date()})
		must(t, err)
		offers()
	}, DeskCounts{Questions: 2, Stages: 2 * stages, Probers: 1})
	gone, cancel := context.WithCancel(ctx)
	cancel()
	before, _ := d.Plant()
	if list, err := d.Offers(gone, truck); err == nil && list.Status == plant.Optimal {
		t.Errorf("a cancelled call claims to know every day: %+v", list)
	}
	if after, _ := d.Plant(); after != before {
		t.Error("a cancelled call changes the plant")
	}
	if list := offers(); list.Status != plant.Optimal || len(list.Offers) == 0 {
		t.Errorf("after a cancelled call: %+v", list)
	}
}

// shown is a truck with a visit to come, and not the other one.
func shown(t *testing.T, p *plant.Plant, other string) string {
	t.Helper()
	for _, v := range p.Visits {
		if v.Planned() && v.Truck != other {
			return v.Truck
		}
	}
	t.Fatal("no truck has a visit")
	return ""
}

// TestDesk_Closed closes a desk twice: every call says so.
func TestDesk_Closed(t *testing.T) {
	p := inForce(t, generate.Options{Trucks: 3, Seed: 11, Load: 0.8})
	ctx := context.Background()
	d, err := Open(ctx, p, Options{})
	must(t, err)
	must(t, d.Close())
	must(t, d.Close())
	_, planned := d.Plan(ctx)
	_, slipped := d.Slip(ctx)
	_, offered := d.Offers(ctx, p.Trucks[0].ID)
	_, why := d.Why(ctx, p.Trucks[0].ID, p.AsOf.Date())
	_, mended := d.Repairs(ctx, Goal{Day: calendar.None})
	_, undone := d.Undo()
	_, plan := d.Plant()
	for n, err := range []error{planned, slipped, offered, why, mended, undone, plan, d.Book("V", plant.Booking{}), d.Unbook("V")} {
		if !errors.Is(err, ErrClosed) {
			t.Errorf("call %d at a closed desk: %v", n, err)
		}
	}
}

// TestDesk_OneAtATime asks one desk from several sides: calls wait for one another (the
// race detector looks on).
func TestDesk_OneAtATime(t *testing.T) {
	p := inForce(t, generate.Options{Trucks: 3, Seed: 11, Load: 0.8})
	truck := shown(t, p, "")
	d, err := Open(context.Background(), p, Options{})
	must(t, err)
	want, err := d.Offers(context.Background(), truck)
	must(t, err)
	got := make(chan string)
	for range 4 {
		go func() {
			list, err := d.Offers(context.Background(), truck)
			if err != nil {
				got <- err.Error()
				return
			}
			got <- decided(list)
		}()
	}
	for range 4 {
		if text := <-got; text != decided(want) {
			t.Errorf("got %s, want %s", text, decided(want))
		}
	}
}

// TestDesk_Repairs compares the ways out of a slip with those that Mend finds.
func TestDesk_Repairs(t *testing.T) {
	p := inForce(t, generate.Options{Trucks: 5, Seed: 13, Load: 0.9})
	ctx := context.Background()
	d, err := Open(ctx, p, Options{})
	must(t, err)
	a, err := d.Slip(ctx, plant.Slip{ID: "S", Kind: plant.CrewAway, Crew: "hosts", Heads: 9, Over: plant.Range{From: p.AsOf.Date() + 1, Through: p.AsOf.Date() + 40}, Known: p.AsOf.Date()})
	must(t, err)
	goal := Goal{Day: calendar.None}
	got, err := d.Repairs(ctx, goal)
	must(t, err)
	want, err := Mend(ctx, p, a.After, a.Result.Plan, goal, Options{})
	must(t, err)
	if want.Promises == 0 {
		t.Error("the slip breaks no promise: this tests too little")
	}
	if fmt.Sprint(got.Promises, got.Lost, len(got.List), got.Nothing.Damages, got.Word) != fmt.Sprint(want.Promises, want.Lost, len(want.List), want.Nothing.Damages, want.Word) {
		t.Errorf("the desk finds %+v, Mend %+v", got, want)
	}
	was := d.ledger.kept
	again, err := d.Repairs(ctx, goal)
	must(t, err)
	if fmt.Sprint(again.Promises, again.Lost, len(again.List), again.Asked, again.Word) != fmt.Sprint(got.Promises, got.Lost, len(got.List), got.Asked, got.Word) {
		t.Errorf("asked again, the desk finds %+v, before %+v", again, got)
	}
	is := d.ledger.kept
	if now, kept := is.Stages-was.Stages, is.StagesKept-was.StagesKept; now == 0 || kept != now {
		t.Errorf("asked again, the starts of %d of %d stages are taken over, want all", kept, now)
	}
}

// TestForeign_Desk has the best plan in force at a desk, and lets things happen there: each answer
// is the one that is worked out from nothing, and taken back leaves what was before.
func TestForeign_Desk(t *testing.T) {
	t.Parallel()
	var met tally
	spread(t, 150**foreign, func(t *testing.T, seed uint64) {
		s := anyOf(t, seed)
		s.complain(t, "at a desk", func(p *plant.Plant) string {
			in, err := inBest(p)
			if err != nil {
				return err.Error()
			}
			if in == nil {
				return ""
			}
			return atDesk(rand.New(rand.NewPCG(seed, 36)), in, &met)
		})
	})
	met.met(t, 60, "plants", "slips", "slips after a slip", "asked for days", "taken back")
	met.met(t, 2, "no plan after a slip")
}

// atDesk lets up to three things happen.
func atDesk(r *rand.Rand, in *plant.Plant, met *tally) string {
	ctx := context.Background()
	desk, err := Open(ctx, in, Options{})
	if err != nil {
		return err.Error()
	}
	defer desk.Close()
	met.add("plants")
	slips := 0
	for range 3 {
		p, err := desk.Plant()
		if err != nil {
			return err.Error()
		}
		with := told(r, p)
		if len(with.Slips) == len(p.Slips) {
			continue
		}
		slip := with.Slips[len(p.Slips)]
		after, err := p.Apply([]plant.Slip{slip})
		if err != nil {
			continue
		}
		got, err := desk.Slip(ctx, slip)
		if err != nil {
			return fmt.Sprintf("%+v: %v", slip, err)
		}
		want, err := Replan(ctx, after, Options{})
		if err != nil {
			return err.Error()
		}
		if slips++; slips > 1 {
			met.add("slips after a slip")
		}
		met.add("slips")
		if got.Result.Status != want.Status || !slices.Equal(got.Result.Tiers, want.Tiers) || !slices.Equal(got.Result.Reasons, want.Reasons) {
			return fmt.Sprintf("after %+v: %s %v %v at the desk, and %s %v %v from nothing", slip, got.Result.Status, got.Result.Tiers, got.Result.Reasons, want.Status, want.Tiers, want.Reasons)
		}
		if got.Result.Plan == nil {
			met.add("no plan after a slip")
			break
		}
		if len(p.Trucks) == 0 {
			continue
		}
		truck := pick(r, p.Trucks).ID
		if p, err = desk.Plant(); err != nil {
			return err.Error()
		}
		warm, err := desk.Offers(ctx, truck)
		cold, refused := Offers(ctx, p, truck, Options{})
		if fmt.Sprint(err) != fmt.Sprint(refused) {
			return fmt.Sprintf("days for %s: %v at the desk, %v from nothing", truck, err, refused)
		}
		if err != nil {
			continue
		}
		met.add("asked for days")
		if a, b := decided(warm), decided(cold); a != b {
			return fmt.Sprintf("days for %s at the desk:\n%s\nfrom nothing:\n%s", truck, a, b)
		}
	}
	for range slips {
		if _, err := desk.Undo(); err != nil {
			break // the last one left no plan
		}
		met.add("taken back")
	}
	p, err := desk.Plant()
	if err != nil {
		return err.Error()
	}
	if a, b := plant.Write(p), plant.Write(in); string(a) != string(b) {
		return fmt.Sprintf("taken back, the plant is\n%s\nand was\n%s", a, b)
	}
	return ""
}
