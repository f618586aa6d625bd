package forecast

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/history"
	"wetdown/solver/plant"
)

// Learned are laws from what happened to line-off days projected before. A truck of
// which too few were alike (history.Enough) keeps the estimates of line and suppliers,
// and the laws say for how many that is so. with names trucks beside those of the plant,
// such as a would-be order.
func Learned(h *history.History, p *plant.Plant, with ...plant.Truck) (Laws, error) {
	line, err := p.Project()
	if err != nil {
		return Laws{}, err
	}
	ask := func(t *plant.Truck, projected calendar.Date) (Law, history.Estimate, bool) {
		e := h.Ask(history.Question{What: history.LineOff, Kind: t.Kind, Content: t.Content, On: p.AsOf.Date(), Projected: projected})
		switch e.Basis {
		case history.ByKind, history.ByContent, history.ByEvent:
			return Law{e.Law, e.Trucks}, e, e.Law != nil
		}
		return Law{}, e, false
	}
	l := Laws{LineOff: func(t *plant.Truck, projected calendar.Date) (Law, bool) {
		law, _, known := ask(t, projected)
		return law, known
	}}
	by, estimated, least := map[history.Basis]int{}, 0, 0
	share, slip := map[string]float64{}, map[string]float64{} // by owner of the clock
	count := func(t *plant.Truck, projected calendar.Date) {
		if t.Line.Off != calendar.None || projected == calendar.None {
			return
		}
		law, e, known := ask(t, projected)
		if !known {
			estimated++
			return
		}
		by[e.Basis]++
		for _, s := range e.Owners {
			share[s.Owner] += s.Share
			slip[s.Owner] += s.Share * s.Mean
		}
		if least == 0 || law.Sample < least {
			least = law.Sample
		}
	}
	for i := range p.Trucks {
		count(&p.Trucks[i], line.LineOff(p.Trucks[i].ID))
	}
	for i := range with {
		off, err := lineOff(p, with[i])
		if err != nil {
			return Laws{}, err
		}
		count(&with[i], off)
	}
	known := by[history.ByKind] + by[history.ByContent] + by[history.ByEvent]
	if known > 0 {
		l.Says = append(l.Says, fmt.Sprintf(
			"Line-off of %s: from how projections slipped before, so far ahead: %d by trucks of the same kind and content, %d by those of the same content, %d by all; %d past trucks or more behind each. Those who wait for one supplier share its luck in half of the runs.",
			trucks(known), by[history.ByKind], by[history.ByContent], by[history.ByEvent], least))
	}
	if says := clocks(share, slip); known > 0 && says != "" {
		l.Says = append(l.Says, says)
	}
	if l.All = estimated == 0; !l.All {
		l.Says = append(l.Says, fmt.Sprintf("Line-off of %s: fewer than %d past trucks are alike, so what follows is assumed.", trucks(estimated), history.Enough))
	}
	return l, nil
}

// clocks says on whose clock past slips were, by shares of trucks and slips in working days
// that go with them; "" where nobody wrote it down.
func clocks(share, slip map[string]float64) string {
	all := share[""]
	for _, o := range history.Owners {
		all += share[o]
	}
	var parts []string
	for _, o := range history.Owners {
		if n := share[o]; n > 0 {
			parts = append(parts, fmt.Sprintf("%s %.0f%% (%+.1f working days in the mean)", o, 100*n/all, slip[o]/n))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	if n := share[""]; n > 0 {
		parts = append(parts, fmt.Sprintf("nobody wrote it down %.0f%%", 100*n/all))
	}
	return "On whose clock they slipped: " + strings.Join(parts, "; ") + "."
}

// lineOff is when a would-be truck comes off the line, calendar.None if there is no place for it.
func lineOff(p *plant.Plant, t plant.Truck) (calendar.Date, error) {
	_, enters, err := p.Slot(&t)
	if errors.Is(err, plant.ErrNoSlot) {
		return calendar.None, nil
	}
	if err != nil {
		return 0, err
	}
	if t.Line.Off == calendar.None && t.Line.Station == "" {
		t.Line = plant.Place{Enters: enters, Since: calendar.None, Off: calendar.None, Feeders: t.Line.Feeders}
	}
	with := *p
	with.Trucks = append(slices.Clone(p.Trucks), t)
	line, err := with.Project()
	if err != nil {
		return 0, err
	}
	return line.LineOff(t.ID), nil
}

func trucks(n int) string {
	if n == 1 {
		return "1 truck"
	}
	return fmt.Sprintf("%d trucks", n)
}
