package api_test

import (
	"fmt"
	"testing"

	"wetdown/api"
	"wetdown/api/sheet"
	"wetdown/calendar"
)

// TestQuoteOutcome follows a quote: held, its place given up and held again under the same
// number for another quote, ordered, delivered.
func TestQuoteOutcome(t *testing.T) {
	a := started(t, demoPlant(t))
	p := newest(t, a).Plant
	one, two := quoted(t, a, wouldBe(p)), quoted(t, a, wouldBe(p))
	look := func(q *api.Quote) *api.QuoteOutcome {
		t.Helper()
		o, err := a.QuoteOutcome(ctx, who(api.RoleReader), q.ID)
		if err != nil {
			t.Fatal(err)
		}
		if o.Quoted != q.Result.Delivery || o.P80 != q.Odds.Delivery.P80 {
			t.Errorf("quoted for %s, 80 %% by %s: %+v", q.Result.Delivery, q.Odds.Delivery.P80, o)
		}
		return o
	}
	hold := func(q *api.Quote) *api.Reservation {
		t.Helper()
		r, no := reserved(t, a, api.ReserveQuestion{Quote: q.ID, Truck: "N-1", Until: p.AsOf.Date() + 14})
		if no != nil {
			t.Fatal(no)
		}
		return r
	}
	if o := look(one); o.State != api.QuoteOpen || o.Truck != "" || o.Original != calendar.None {
		t.Errorf("at first: %+v", o)
	}
	r := hold(one)
	if o := look(one); o.State != api.QuoteHeld || o.Truck != "N-1" || o.Original != r.Delivery || o.Latest != r.Delivery || o.Actual != calendar.None {
		t.Errorf("held for %s: %+v", r.Delivery, o)
	}
	if _, err := a.Release(ctx, sales, api.Intent{}, "N-1"); err != nil {
		t.Fatal(err)
	}
	if o := look(one); o.State != api.QuoteGivenUp {
		t.Errorf("given up: %+v", o)
	}
	r = hold(two)
	if o, other := look(two), look(one); o.State != api.QuoteHeld || other.State != api.QuoteGivenUp || other.Truck != "N-1" {
		t.Errorf("held for the other: %+v, %+v", o, other)
	}
	if _, err := a.Ordered(ctx, sales, api.Intent{}, "N-1"); err != nil {
		t.Fatal(err)
	}
	if o := look(two); o.State != api.QuoteOrdered {
		t.Errorf("ordered: %+v", o)
	}
	said := p.AsOf.Date() + 30
	table := fmt.Sprintf("truck,event,said,projected,actual\nN-1,delivery,%s,%s,%s\n", said, r.Delivery+7, r.Delivery+9)
	if _, _, err := a.TakeFile(ctx, manager, api.Intent{}, sheet.History, "old.csv", []byte(table), 0); err != nil {
		t.Fatal(err)
	}
	if o := look(two); o.State != api.QuoteDelivered || o.Original != r.Delivery || o.Latest != r.Delivery+7 || o.Actual != r.Delivery+9 {
		t.Errorf("delivered, promised for %s: %+v", r.Delivery, o)
	}
	list, err := a.QuoteOutcomes(ctx, sales, api.Page{Newest: true})
	if err != nil || len(list) != 2 || list[0].Quote != two.ID || list[1].Quote != one.ID || list[0].State != api.QuoteDelivered {
		t.Errorf("all: %+v, %v", list, err)
	}
	if _, err := a.QuoteOutcome(ctx, sales, "none"); problem(t, err) != api.NotFound {
		t.Errorf("a quote that is none: %v", err)
	}
}
