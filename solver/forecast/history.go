package forecast

import (
	"errors"
	"fmt"
	"slices"

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
	if l.All = estimated == 0; !l.All {
		l.Says = append(l.Says, fmt.Sprintf("Line-off of %s: fewer than %d past trucks are alike, so what follows is assumed.", trucks(estimated), history.Enough))
	}
	return l, nil
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
