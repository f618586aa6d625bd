package forecast_test

import (
	"context"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/forecast"
	"wetdown/solver/plant"
)

// TestQuoted: an answer is one in itself: days in order, the window between two of them, the visit booked
// on a day that it is ready for, variants that gain what they say.
func TestQuoted(t *testing.T) {
	p := house(t, 30, 1, 0.9)
	truck, visit := order()
	ask := func(change func(*plant.Truck, *forecast.Options)) *forecast.Quote {
		tr, o := truck, forecast.Options{Runs: 600, Seed: 4, Workers: 2}
		change(&tr, &o)
		q, err := forecast.Quoted(context.Background(), p, tr, visit, o)
		if err != nil {
			t.Fatal(err)
		}
		return q
	}
	q := ask(func(*plant.Truck, *forecast.Options) {})
	for name, s := range map[string]forecast.Span{"line-off": q.LineOff, "ready": q.Ready, "visit": q.Visit, "delivery": q.Delivery} {
		if s.Earliest == calendar.None || s.Earliest > s.P50 || s.P50 > s.P80 || s.P80 > s.P95 {
			t.Errorf("%s: %+v", name, s)
		}
	}
	// The days of the chances are read off the days of all runs: the nearest rank, which is the
	// first day by whose end at least that share has come.
	for share, day := range map[float64]calendar.Date{0: q.Delivery.Earliest, 0.5: q.Delivery.P50, 0.8: q.Delivery.P80, 0.95: q.Delivery.P95} {
		first, last := calendar.None, 0
		for _, a := range q.Delivered {
			if a.Runs <= last || a.Runs > q.Runs {
				t.Fatalf("%d of %d runs by %s, after %d", a.Runs, q.Runs, a.Day, last)
			}
			if last = a.Runs; first == calendar.None && float64(a.Runs) >= share*float64(q.Runs) {
				first = a.Day
			}
		}
		if first != day {
			t.Errorf("%.2f: %s, and %s by the days of all runs", share, day, first)
		}
	}
	if q.LineOff.P50 >= q.Ready.P50 || q.Ready.P50 > q.Visit.P50 || q.Visit.P50 >= q.Delivery.P50 {
		t.Errorf("steps out of order: %+v", q)
	}
	if q.Window.From != q.Delivery.P50 || q.Window.Through != q.Delivery.P80 {
		t.Errorf("window %v", q.Window)
	}
	if q.Booked < q.Ready.P50 || q.Held.Share < 0.7 || q.Outside {
		t.Errorf("booked on %v, held with %.2f", q.Booked, q.Held.Share)
	}
	saturdays := 0
	for i, v := range q.Earlier {
		if i > 0 && v.Days > q.Earlier[i-1].Days {
			t.Errorf("%s gains more than the one before", v.Name)
		}
		if v.Kind == forecast.VariantSaturdays {
			saturdays++
			if v.Days <= 0 || v.Dollars <= 0 || v.PerDay <= 0 || v.P80 > q.Delivery.P80 {
				t.Errorf("%+v against %v", v, q.Delivery.P80)
			}
		}
	}
	if saturdays == 0 {
		t.Error("no Saturday gains anything: take another plant")
	}
	if len(q.Drivers) == 0 {
		t.Error("nothing drives the day")
	}
	for i, d := range q.Drivers {
		if d.Share <= 0 || d.Share > 1 || i > 0 && d.Share > q.Drivers[i-1].Share {
			t.Errorf("driver %+v", d)
		}
	}

	// A line that is never late: it drives nothing, and nothing comes later for it.
	sure := ask(func(_ *plant.Truck, o *forecast.Options) {
		o.Laws.Line = func(*plant.Truck, int) forecast.Law { return forecast.Law{} }
	})
	for _, d := range sure.Drivers {
		if d.Name == "Line-off" {
			t.Errorf("a line that is never late drives %.2f", d.Share)
		}
	}
	if sure.LineOff.Earliest != sure.LineOff.P95 {
		t.Errorf("line-off %+v", sure.LineOff)
	}

	// A place on the line four weeks later.
	later := ask(func(tr *plant.Truck, _ *forecast.Options) { tr.Line.Enters = q.Enters + 28 })
	if later.Enters != q.Enters+28 || later.Delivery.P50 <= q.Delivery.P50 {
		t.Errorf("enters on %v, delivered by %v; entering on %v it was %v", later.Enters, later.Delivery.P50, q.Enters, q.Delivery.P50)
	}
	gains := false
	for _, v := range later.Earlier {
		gains = gains || v.Kind == forecast.VariantSlot && v.Days > 10
	}
	if !gains {
		t.Errorf("the first free place is no gain: %+v", later.Earlier)
	}
}
