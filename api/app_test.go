package api_test

import (
	"context"
	"encoding/json"
	"errors"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"wetdown/api"
	"wetdown/api/store"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
	"wetdown/testdata"
)

// who are the people of these tests.
func who(role string) api.Actor { return api.Actor{Name: role, Acts: api.ActsOf(role)} }

var (
	manager     = who(api.RoleManager)
	coordinator = who(api.RoleCoordinator)
)

// inline works on a job as soon as it is asked.
type inline struct{ app *api.App }

func (q inline) Add(ctx context.Context, id string) error { return q.app.Work(ctx, id) }
func (inline) Stop(string)                                {}

// demoPlant is the plant of the demo.
func demoPlant(t testing.TB) *plant.Plant {
	t.Helper()
	p, faults := plant.Read("demo", []byte(testdata.DemoPlant))
	if len(faults) > 0 {
		t.Fatal(faults[0])
	}
	return p
}

// started is the application on an empty database with a plant loaded and planned.
func started(t testing.TB, p *plant.Plant) *api.App {
	t.Helper()
	return startedOn(t, filepath.Join(t.TempDir(), "wetdown.db"), p)
}

// startedOn is the same on the database of a URL.
func startedOn(t testing.TB, url string, p *plant.Plant) *api.App {
	t.Helper()
	ctx := context.Background()
	s, err := store.Open(ctx, url)
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)
	a := api.New(s, api.Options{Clock: func() time.Time { return now }, Solves: 2})
	a.Serve(inline{a})
	t.Cleanup(func() {
		if err := errors.Join(s.Check(ctx), a.Close(), s.Close()); err != nil {
			t.Error(err)
		}
	})
	if _, err := a.Load(ctx, manager, api.Intent{}, p); err != nil {
		t.Fatal(err)
	}
	if p.Plan == nil {
		accepted(t, a, api.ProposeQuestion{Slips: []string{}})
	}
	return a
}

// accepted asks for a proposal and puts it in force.
func accepted(t testing.TB, a *api.App, q api.ProposeQuestion) *api.Proposal {
	t.Helper()
	p, err := a.Accept(context.Background(), manager, api.Intent{}, proposed(t, a, q).ID)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func proposed(t testing.TB, a *api.App, q api.ProposeQuestion) *api.Proposal {
	t.Helper()
	ctx := context.Background()
	j, err := a.AskProposal(ctx, manager, q)
	if err != nil {
		t.Fatal(err)
	}
	if j, err = a.Job(ctx, manager, j.ID); err != nil || j.State != api.JobDone {
		t.Fatalf("%v: %+v", err, j)
	}
	p, err := a.Proposal(ctx, manager, j.ID)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// newest is the plant as it stands, whose plan must fit.
func newest(t testing.TB, a *api.App) *api.State {
	t.Helper()
	s, err := a.State(context.Background(), manager, 0)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// problem is the kind of problem in an error, 0 for none.
func problem(t testing.TB, err error) api.Kind {
	t.Helper()
	if err == nil {
		return 0
	}
	p := api.AsProblem(err)
	if p.Next == "" || p.Title == "" {
		t.Errorf("%v does not say what to do", err)
	}
	if p.Kind == api.Broken {
		t.Errorf("a fault of the program: %v", err)
	}
	return p.Kind
}

func TestLoad(t *testing.T) {
	p := demoPlant(t)
	a := started(t, p)
	s := newest(t, a)
	if got, want := string(plant.Write(s.Plant)), string(plant.Write(p)); s.Revision.Number == 1 && got != want {
		t.Errorf("the plant came back as\n%s", got)
	}
	if f := s.Fit(); f == nil || len(f.Broken) > 0 {
		t.Errorf("the plan does not fit: %+v", f)
	}
}

func TestBook_Steps(t *testing.T) {
	a := started(t, demoPlant(t))
	ctx := context.Background()
	s := newest(t, a)
	var v *plant.Visit
	var day calendar.Date
	for i := range s.Plant.Visits {
		if w := &s.Plant.Visits[i]; w.Booking.State == plant.Requested {
			for _, o := range s.Plant.Plan.Visits {
				if o.Visit == w.ID && o.Day != calendar.None {
					v, day = w, o.Day
				}
			}
		}
	}
	if v == nil {
		t.Fatal("the demo has no requested visit with a day")
	}
	for _, c := range []struct {
		order api.BookingOrder
		kind  api.Kind
	}{
		{api.BookingOrder{State: "maybe", Day: day}, api.Invalid},
		{api.BookingOrder{State: plant.Held}, api.Conflict},
		{api.BookingOrder{State: plant.Tentative}, api.Invalid},
		{api.BookingOrder{State: plant.Tentative, Day: day, HoldUntil: day + 1}, api.Invalid},
		{api.BookingOrder{State: plant.Tentative, Day: day, HoldUntil: day - 3}, 0},
		{api.BookingOrder{State: plant.Confirmed}, 0},
		{api.BookingOrder{State: plant.Confirmed, TravelBought: true}, 0},
		{api.BookingOrder{State: plant.NoShow}, api.Conflict}, // it is still to come
		{api.BookingOrder{State: plant.Cancelled}, 0},
		{api.BookingOrder{State: plant.Confirmed, Day: day}, api.Conflict},
		{api.BookingOrder{State: plant.Requested}, 0},
		{api.BookingOrder{State: plant.Tentative, Day: day}, 0}, // the plan gave the day up: it is found again
	} {
		before := newest(t, a)
		c.order.Day = cmpOr(c.order.Day, calendar.None)
		c.order.HoldUntil = cmpOr(c.order.HoldUntil, calendar.None)
		after, err := a.Book(ctx, coordinator, api.Intent{Why: "they rang"}, v.ID, c.order)
		if k := problem(t, err); k != c.kind {
			t.Errorf("%+v: problem %v of kind %d, want %d", c.order, err, k, c.kind)
		}
		if err != nil {
			if now := newest(t, a); now.Revision != before.Revision {
				t.Errorf("%+v was refused and made revision %d", c.order, now.Revision.Number)
			}
			continue
		}
		if b := after.Plant.FindVisit(v.ID).Booking; b.State != c.order.State || after.Revision.Number != before.Revision.Number+1 || after.Revision.Why != "they rang" {
			t.Errorf("%+v: %+v, %+v", c.order, b, after.Revision)
		}
		if f := after.Fit(); len(f.Broken) > 0 {
			t.Errorf("%+v: %s", c.order, f.Broken[0])
		}
	}
}

func cmpOr(d, or calendar.Date) calendar.Date {
	if d == 0 {
		return or
	}
	return d
}

// What a booking would do is said beforehand, and is what it then does.
func TestForesee(t *testing.T) {
	a := started(t, demoPlant(t))
	ctx := context.Background()
	before := newest(t, a)
	j, err := a.AskOffers(ctx, coordinator, api.OffersQuestion{Truck: "H1018"})
	if err != nil {
		t.Fatal(err)
	}
	if j, err = a.Job(ctx, coordinator, j.ID); err != nil || j.State != api.JobDone {
		t.Fatalf("%v %+v", err, j)
	}
	var list solver.OfferList
	if err := json.Unmarshal(j.Answer, &list); err != nil {
		t.Fatal(err)
	}
	foreseen := 0
	for _, o := range list.Offers {
		if o.Kept {
			continue
		}
		order := api.BookingOrder{State: plant.Tentative, Day: o.Day, HoldUntil: calendar.None}
		m, err := a.Foresee(ctx, coordinator, list.Visit, order)
		if err != nil {
			t.Fatal(err)
		}
		if newest(t, a).Revision != before.Revision {
			t.Fatal("to foresee changed the plant")
		}
		if foreseen++; foreseen < 3 {
			continue
		}
		after, err := a.Book(ctx, coordinator, api.Intent{}, list.Visit, order)
		if err != nil {
			t.Fatal(err)
		}
		did, err := solver.Compare(before.Plant, after.Plant, nil, after.Plant.Plan)
		if err != nil || did.Summary() != m.Summary() {
			t.Errorf("foreseen %q, done %q (%v)", m.Summary(), did.Summary(), err)
		}
		return
	}
	t.Errorf("only %d other days are on offer", foreseen)
}

// Everybody may do what their role says, and nothing else.
func TestActs(t *testing.T) {
	a := started(t, demoPlant(t))
	ctx := context.Background()
	for _, c := range []struct {
		name, act string
		do        func(api.Actor) error
	}{
		{"look", api.ActRead, func(w api.Actor) error { _, err := a.State(ctx, w, 0); return err }},
		{"book", api.ActBook, func(w api.Actor) error {
			_, err := a.Book(ctx, w, api.Intent{}, "none", api.BookingOrder{})
			return err
		}},
		{"slip", api.ActReport, func(w api.Actor) error { _, _, err := a.ReportSlip(ctx, w, api.Intent{}, plant.Slip{}); return err }},
		{"undo", api.ActDecide, func(w api.Actor) error { _, err := a.Undo(ctx, w, api.Intent{}, 99); return err }},
		{"accept", api.ActDecide, func(w api.Actor) error { _, err := a.Accept(ctx, w, api.Intent{}, "none"); return err }},
		{"prices", api.ActSetUp, func(w api.Actor) error {
			_, err := a.Put(ctx, w, api.Intent{}, "prices", []byte(`{"late_day": "x"}`))
			return err
		}},
	} {
		for _, role := range append(api.Roles(), "nobody") {
			w := who(role)
			kind := problem(t, c.do(w))
			if denied := kind == api.Forbidden; denied == w.May(c.act) {
				t.Errorf("%s may %s: %v, and was denied: %v", role, c.name, w.May(c.act), denied)
			}
		}
		if k := problem(t, c.do(api.Actor{})); k != api.Unknown {
			t.Errorf("without login, %s: kind %d", c.name, k)
		}
	}
}

// A slip is reported, answered, accepted, and taken back.
func TestProposal(t *testing.T) {
	a := started(t, demoPlant(t))
	ctx := context.Background()
	p := newest(t, a).Plant
	truck := onLine(p)
	before := newest(t, a)
	_, id, err := a.ReportSlip(ctx, coordinator, api.Intent{}, plant.Slip{Kind: plant.LineOffMoved, Truck: truck, Days: 4, Cause: "parts", Clock: "supplier"})
	if err != nil {
		t.Fatal(err)
	}
	one, other := proposed(t, a, api.ProposeQuestion{}), proposed(t, a, api.ProposeQuestion{})
	if one.Status != plant.Optimal || one.Impact == nil || len(one.Slips) == 0 || one.State != api.ProposalReady {
		t.Fatalf("%+v", one)
	}
	if now := newest(t, a); now.Revision.Number != before.Revision.Number+1 {
		t.Errorf("a proposal changed the plant: revision %d", now.Revision.Number)
	}
	if _, err := a.Accept(ctx, coordinator, api.Intent{}, one.ID); problem(t, err) != api.Forbidden {
		t.Errorf("a coordinator accepted: %v", err)
	}
	got, err := a.Accept(ctx, manager, api.Intent{Why: "best there is"}, one.ID)
	if err != nil || got.State != api.ProposalAccepted {
		t.Fatal(got, err)
	}
	after := newest(t, a)
	if len(after.Plant.Slips) != len(p.Slips) && len(one.Slips) == len(p.Slips)+1 && len(after.Plant.Slips) != 0 {
		t.Errorf("slip %s is still open", id)
	}
	if f := after.Fit(); len(f.Broken) > 0 {
		t.Error(f.Broken[0])
	}
	calls, err := a.Calls(ctx, coordinator, api.CallOpen, api.Page{})
	if err != nil || len(calls) != len(one.Impact.Calls) {
		t.Errorf("%d calls to make, want %d: %v", len(calls), len(one.Impact.Calls), err)
	}
	if _, err := a.Accept(ctx, manager, api.Intent{}, one.ID); problem(t, err) != api.Conflict {
		t.Errorf("accepted twice: %v", err)
	}
	if _, err := a.Accept(ctx, manager, api.Intent{}, other.ID); problem(t, err) != api.Stale {
		t.Errorf("a proposal from an older revision was accepted: %v", err)
	}
	if _, err := a.DropProposal(ctx, manager, other.ID); err != nil {
		t.Error(err)
	}
	undone, err := a.Undo(ctx, manager, api.Intent{}, after.Revision.Number)
	if err != nil {
		t.Fatal(err)
	}
	if undone.Revision.Undoes != after.Revision.Number || len(undone.Plant.Slips) != len(p.Slips)+1 {
		t.Errorf("%+v, %d slips", undone.Revision, len(undone.Plant.Slips))
	}
	back, err := a.Undo(ctx, manager, api.Intent{}, before.Revision.Number+1)
	if err != nil {
		t.Fatal(err)
	}
	if x, y := string(plant.Write(back.Plant)), string(plant.Write(before.Plant)); x != y {
		t.Errorf("undone twice, the plant is not what it was")
	}
}

// Many book at once. Every booking said to be made is there, and nothing else.
func TestBook_AtOnce(t *testing.T) {
	p := generate.Generate(generate.Options{Trucks: 18, Seed: 3, Load: 0.95})
	a := started(t, p)
	ctx := context.Background()
	s := newest(t, a)
	var wg sync.WaitGroup
	var mu sync.Mutex
	booked := map[string]calendar.Date{}
	refused := 0
	for i := range s.Plant.Visits {
		v := s.Plant.Visits[i]
		if v.Booking.State != plant.Requested && v.Booking.State != plant.Tentative {
			continue
		}
		at := slices.IndexFunc(s.Plant.Plan.Visits, func(o plant.PlannedVisit) bool { return o.Visit == v.ID })
		for later := range calendar.Date(4) {
			wg.Go(func() {
				day := s.Plant.Plan.Visits[at].Day + later
				st, err := a.Book(ctx, coordinator, api.Intent{}, v.ID, api.BookingOrder{State: plant.Confirmed, Day: day, HoldUntil: calendar.None})
				mu.Lock()
				defer mu.Unlock()
				switch {
				case err != nil:
					if k := problem(t, err); k != api.Refused && k != api.Invalid && k != api.Busy {
						t.Errorf("%s: %v", v.ID, err)
					}
					refused++
				default:
					booked[v.ID] = day
					if f := st.Fit(); len(f.Broken) > 0 {
						t.Error(f.Broken[0])
					}
				}
			})
		}
	}
	wg.Wait()
	after := newest(t, a)
	for i := range after.Plant.Visits {
		v := &after.Plant.Visits[i]
		if _, ok := booked[v.ID]; ok && v.Booking.State != plant.Confirmed {
			t.Errorf("%s was booked and is %s", v.ID, v.Booking.State)
		}
	}
	if f := after.Fit(); len(f.Broken) > 0 {
		t.Error(f.Broken[0])
	}
	t.Logf("%d booked, %d refused", len(booked), refused)
	if len(booked) == 0 {
		t.Error("nobody got a day")
	}
}

func TestPut(t *testing.T) {
	a := started(t, demoPlant(t))
	ctx := context.Background()
	s := newest(t, a)
	for _, c := range []struct {
		name, key, text string
		kind            api.Kind
		says            string
	}{
		{"a new bay", "bays/annex", `{"id": "annex", "kinds": ["floor"]}`, 0, ""},
		{"another id than the address", "bays/annex-2", `{"id": "annex-3", "kinds": ["floor"]}`, api.Invalid, "id"},
		{"an unknown key", "bays/annex", `{"id": "annex", "kinds": ["floor"], "colour": "red"}`, api.Invalid, "colour"},
		{"two values", "bays/annex", `{"id": "annex", "kinds": ["floor"]}` + "\n  - {id: x}", api.Invalid, "JSON"},
		{"no JSON", "bays/annex", `id: annex`, api.Invalid, "JSON"},
		{"a noun that there is not", "walls/annex", `{}`, api.NotFound, "walls"},
		{"a booking set with the visit", "visits/" + s.Plant.Visits[0].ID, `{"id": "` + s.Plant.Visits[0].ID + `"}`, api.Invalid, ""},
		{"prices", "prices", `{"late_day": 7}`, 0, ""},
	} {
		_, err := a.Put(ctx, manager, api.Intent{}, c.key, []byte(c.text))
		if k := problem(t, err); k != c.kind || err != nil && !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	if p := newest(t, a).Plant; p.FindBay("annex") == nil || p.Prices.LateDay != 7 {
		t.Error("what was put is not there")
	}
	seen, err := a.Thing(ctx, manager, "bays/annex")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := a.Put(ctx, manager, api.Intent{Expect: api.Expectation{Key: "bays/annex", Revision: seen.Changed}}, "bays/annex", []byte(`{"id": "annex", "kinds": ["floor", "graphics"]}`)); err != nil {
		t.Errorf("nobody has touched the annex, and: %v", err)
	}
	if _, err := a.Put(ctx, manager, api.Intent{Expect: api.Expectation{Key: "bays/annex", Revision: 1}}, "bays/annex", []byte(`{"id": "annex", "kinds": ["floor", "aerial_pad"]}`)); problem(t, err) != api.Stale {
		t.Errorf("an older bay was changed: %v", err)
	}
	if _, err := a.Drop(ctx, manager, api.Intent{}, "bays/annex"); err != nil || newest(t, a).Plant.FindBay("annex") != nil {
		t.Error(err)
	}
	if _, err := a.Drop(ctx, manager, api.Intent{}, "customers/"+s.Plant.Trucks[0].Customer); problem(t, err) != api.Invalid {
		t.Errorf("a customer with a truck was taken away: %v", err)
	}
	h, err := a.History(ctx, manager, "bays/annex")
	if err != nil || len(h) != 3 || h[2].Text != "" {
		t.Errorf("%+v %v", h, err)
	}
}
