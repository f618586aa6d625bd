package api_test

import (
	"context"
	"encoding/json"
	"testing"
	"time"

	"wetdown/api"
	"wetdown/api/sheet"
	"wetdown/api/store"
	"wetdown/calendar"
	"wetdown/solver/forecast"
)

// TestQuote_Odds compares the odds of a quote with package forecast, and its earliest day
// with its chances.
func TestQuote_Odds(t *testing.T) {
	a := started(t, demoPlant(t))
	s := newest(t, a)
	q := quoted(t, a, wouldBe(s.Plant))
	want, err := forecast.Quoted(ctx, s.Plant, q.Order.Truck, q.Order.Visit, forecast.Options{Runs: 2000, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	same(t, "delivery", q.Odds.Delivery, want.Delivery)
	same(t, "drivers", q.Odds.Drivers, want.Drivers)
	same(t, "price of earlier", q.Odds.Earlier, want.Earlier)
	if d := q.Odds.Delivery; q.Without != "" || d.P50 > d.P80 || d.P80 > d.P95 || q.Odds.Window.From != d.P50 || q.Odds.Window.Through != d.P80 || len(q.Odds.Assumptions) == 0 {
		t.Errorf("odds: %+v", q.Odds)
	}
}

// TestQuote_NoPlan quotes for a plant without a plan in force: the earliest day, and why there
// are no odds.
func TestQuote_NoPlan(t *testing.T) {
	h := newHall(t)
	h.App.Serve(inline{h.App})
	p := demoPlant(t)
	p.Plan = nil
	if _, err := h.Load(ctx, h.admin, api.Intent{}, p); err != nil {
		t.Fatal(err)
	}
	q := quoted(t, h.App, wouldBe(p))
	if q.Odds != nil || q.Without == "" || q.Result.Delivery == calendar.None {
		t.Errorf("%+v, without odds: %q", q.Result, q.Without)
	}
}

// TestQuoteAgain makes quotes again when plant and history have moved on, from what was kept of
// them, to the byte. What is quoted by then is another.
func TestQuoteAgain(t *testing.T) {
	a := started(t, demoPlant(t))
	take := func(days int) {
		t.Helper()
		if _, _, err := a.TakeFile(ctx, manager, api.Intent{}, sheet.History, "old.csv", slipped(12, days), 0); err != nil {
			t.Fatal(err)
		}
	}
	order := wouldBe(newest(t, a).Plant)
	quotes := []*api.Quote{quoted(t, a, order)} // by estimates
	take(21)
	quotes = append(quotes, quoted(t, a, order)) // by what was late
	take(0)
	quotes = append(quotes, quoted(t, a, order)) // by what was not
	lineOff(t, a, "H1019", march(19))
	if _, err := a.Book(ctx, coordinator, api.Intent{}, "H1024-F", api.BookingOrder{State: "confirmed", Day: calendar.NewDate(2027, time.May, 5)}); err != nil {
		t.Fatal(err)
	}
	quotes = append(quotes, quoted(t, a, order))
	for i, q := range quotes {
		kept, err := a.Quote(ctx, sales, q.ID)
		if err != nil {
			t.Fatal(err)
		}
		again, err := a.QuoteAgain(ctx, sales, q.ID)
		if err != nil {
			t.Fatal(err)
		}
		if again.Result == kept.Result || again.Odds == kept.Odds {
			t.Fatal("it was not worked out anew")
		}
		same(t, q.ID, again, kept)
		if i > 0 && i < 3 && kept.Odds.Delivery == quotes[i-1].Odds.Delivery {
			t.Errorf("quotes %d and %d rest on other histories and are the same: %+v", i, i+1, kept.Odds.Delivery)
		}
	}
	if _, err := a.QuoteAgain(ctx, who(api.RoleReader), quotes[0].ID); problem(t, err) != api.Forbidden {
		t.Errorf("a reader: %v", err)
	}
	if _, err := a.QuoteAgain(ctx, sales, "none"); problem(t, err) != api.NotFound {
		t.Errorf("a quote that is none: %v", err)
	}
}

// shifting is a store in which something happens after each view.
type shifting struct {
	*store.Store
	after func()
}

func (s *shifting) View(ctx context.Context, f func(api.Tx) error) error {
	err := s.Store.View(ctx, f)
	if after := s.after; after != nil {
		s.after = nil // not after its own
		after()
		s.after = after
	}
	return err
}

// TestQuoteAgain_Tables takes in tables of history while a quote is worked out: what it rests
// on is kept all the same.
func TestQuoteAgain_Tables(t *testing.T) {
	h := newHall(t)
	kept := &shifting{Store: h.store}
	days := 0
	var a *api.App
	take := func() {
		days++
		if _, _, err := a.TakeFile(ctx, manager, api.Intent{}, sheet.History, "old.csv", slipped(12, days), 0); err != nil {
			t.Error(err)
		}
	}
	a = api.New(kept, api.Options{Clock: h.clock, Aside: func(f func()) {
		kept.after = take
		f()
		kept.after = nil
	}})
	t.Cleanup(func() { _ = a.Close() })
	a.Serve(inline{a})
	if _, err := a.Load(ctx, manager, api.Intent{}, demoPlant(t)); err != nil {
		t.Fatal(err)
	}
	accepted(t, a, api.ProposeQuestion{})
	take()
	q := quoted(t, a, wouldBe(newest(t, a).Plant))
	if q.Odds == nil || q.Table == 0 || q.Table >= int64(days) {
		t.Fatalf("table %d of %d", q.Table, days)
	}
	again, err := h.QuoteAgain(ctx, sales, q.ID)
	if err != nil {
		t.Fatal(err)
	}
	same(t, q.ID, again, q)
}

// TestQuoteAgain_TimeUp does not make again what had no time to be made.
func TestQuoteAgain_TimeUp(t *testing.T) {
	h := newHall(t)
	h.Serve(inline{h.App})
	if _, err := h.Load(ctx, h.admin, api.Intent{}, demoPlant(t)); err != nil {
		t.Fatal(err)
	}
	q := quoted(t, h.App, wouldBe(newest(t, h.App).Plant))
	err := h.store.Update(ctx, func(tx api.Tx) error {
		r, err := tx.Get(api.KindQuote, q.ID)
		if err != nil {
			return err
		}
		short := *q
		short.Odds, short.Without = nil, api.OutOfTime
		if r.Body, err = json.Marshal(short); err != nil {
			return err
		}
		_, err = tx.Put(r)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if again, err := h.QuoteAgain(ctx, sales, q.ID); problem(t, err) != api.Conflict {
		t.Errorf("%+v, %v", again, err)
	}
}
