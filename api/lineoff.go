package api

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// A LineOff is what a person says about the line-off day of a truck.
type LineOff struct {
	Truck  string
	Day    calendar.Date
	Off    bool   // it came off the line on that day; else that is what is expected
	Reason string // in words
	Cause  string // cause code
}

// ReportLineOff keeps what is said about line-off days, all of it or nothing. The newest
// word on a truck holds, and earlier ones stay in its history. The plan stays: a
// proposal answers what has changed.
func (a *App) ReportLineOff(ctx context.Context, who Actor, i Intent, list ...LineOff) (*State, error) {
	return a.change(ctx, who, ActReport, i, func(s *State) (*next, error) {
		p := *s.Plant
		p.Trucks = slices.Clone(p.Trucks)
		var what string
		for n, l := range list {
			said, err := toldOff(&p, who, l)
			if err != nil {
				return nil, err.inRow(n)
			}
			what += said + " "
		}
		return &next{plant: &p, what: trimmed(what)}, nil
	})
}

// toldOff makes what is said about one truck a fact, and says it in a sentence. It changes the
// truck in p and nothing that the truck shares with others.
func toldOff(p *plant.Plant, who Actor, l LineOff) (string, *Problem) {
	t := p.FindTruck(l.Truck)
	switch {
	case t == nil:
		return "", noSuch("truck", l.Truck, truckNames(p))
	case l.Day == calendar.None:
		return "", invalid("day", "The line-off day of truck "+l.Truck+" is missing.", "Give the day.")
	case t.Line.Off != calendar.None:
		return "", offAlready(t)
	case l.Off && l.Day > p.AsOf.Date():
		return "", notYet(p, l.Day)
	case !l.Off && l.Day < p.AsOf.Date():
		return "", invalid("day", fmt.Sprintf("%s has passed, so truck %s cannot be expected then.", l.Day, t.ID), "Give a day to come, or say that it is off the line.")
	}
	if l.Off {
		return cameOff(p, t, l.Day)
	}
	on := p.AsOf.Date() // the plant knows of no later day
	t.Line.Overrides = append(slices.Clone(t.Line.Overrides), plant.Override{On: on, Off: l.Day, By: who.Name, Reason: l.Reason, Cause: l.Cause})
	return fmt.Sprintf("Truck %s is expected off the line on %s.", t.ID, l.Day), nil
}

// trimmed is a text without blanks at its end, and without what is after its first 500 bytes.
func trimmed(sentences string) string {
	const most = 500
	if len(sentences) > most {
		sentences = strings.ToValidUTF8(sentences[:most], "") + "…"
	}
	for len(sentences) > 0 && sentences[len(sentences)-1] == ' ' {
		sentences = sentences[:len(sentences)-1]
	}
	return sentences
}

func truckNames(p *plant.Plant) (names []string) {
	for i := range p.Trucks {
		names = append(names, p.Trucks[i].ID)
	}
	return names
}
