package forecast_test

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/forecast"
	"wetdown/solver/history"
	"wetdown/solver/plant"
)

// pasts are trucks whose line-off was projected some 5 working days ahead and came so many working
// days late.
func pasts(n, late int) (list []history.Event) {
	for i := range n {
		said := calendar.NewDate(2026, 3, 2) + calendar.Date(7*i) // a Monday
		list = append(list, history.Event{
			Truck: fmt.Sprintf("P%d", i), Kind: "pumper", Content: plant.Medium, What: history.LineOff, Owner: history.Plant,
			Said: said, Projected: said + 7, Actual: said + 7 + calendar.Date(7*late/5),
			Requested: calendar.None, Contract: calendar.None,
		})
	}
	return list
}

// TestLearned: a truck of which all that are alike came five working days late comes five
// working days late; where fewer than eight are alike the estimates hold, and are told.
func TestLearned(t *testing.T) {
	p := merge(t, 1)
	for _, x := range []struct {
		past  int
		known bool
	}{{20, true}, {7, false}, {0, false}} {
		events := pasts(x.past, 5)
		for i := range events[:x.past/4] { // of twenty, five, which weigh a little less: they are older
			events[i].Owner = history.Supplier
		}
		laws, err := forecast.Learned(history.New(events, history.Options{}), p)
		if err != nil {
			t.Fatal(err)
		}
		o, err := forecast.Readiness(context.Background(), p, forecast.Options{Runs: 400, Seed: 1, Laws: laws})
		if err != nil {
			t.Fatal(err)
		}
		v := o.Visits[0]
		says := strings.Join(o.Assumptions, " ")
		if x.known {
			// All were projected five working days ahead and this one seven: its slip is stretched by at
			// most the square root of 12/10 and rounded, five or six.
			if v.Ready.Share != 0 || v.SafeFrom < v.Day+7 || v.SafeFrom > v.Day+8 {
				t.Errorf("%d trucks alike: %+v", x.past, v)
			}
			if !strings.Contains(says, "1 by trucks of the same kind and content") || strings.Contains(says, "without history") {
				t.Errorf("%d trucks alike: it rests on %s", x.past, says)
			}
			if !strings.Contains(says, "On whose clock they slipped: plant 76% (+5.0 working days in the mean); supplier 24% (+5.0") {
				t.Errorf("whose clock: %s", says)
			}
			continue
		}
		if v.Ready.Share == 0 {
			t.Errorf("%d trucks alike: %+v", x.past, v)
		}
		if !strings.Contains(says, "fewer than 8 past trucks are alike") || !strings.Contains(says, "without history") {
			t.Errorf("%d trucks alike: it rests on %s", x.past, says)
		}
	}
}
