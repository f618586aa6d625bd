package api

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// A LineStep is one thing that happened to a truck on the line: it entered Station, it came
// off the line, or Feeder arrived for it.
type LineStep struct {
	Truck   string
	Day     calendar.Date // up to that of the plant's moment
	Station string        // that it entered; with Feeder, the one that waits for it, "" if only one does
	Off     bool
	Feeder  string // its name, such as chassis
}

// ReportLine keeps what happened on the line, in the order given, all of it or nothing. A
// truck may have passed stations between two reports; it never goes back. The plan stays: a
// proposal answers what has changed.
func (a *App) ReportLine(ctx context.Context, who Actor, i Intent, steps ...LineStep) (*State, error) {
	return a.change(ctx, who, ActReport, i, func(s *State) (*next, error) {
		p := *s.Plant
		p.Trucks = slices.Clone(p.Trucks)
		var what string
		for n, x := range steps {
			said, err := stepOn(&p, x)
			if err != nil {
				return nil, err.inRow(n)
			}
			what += said + " "
		}
		return &next{plant: &p, what: trimmed(what)}, nil
	})
}

// stepOn makes one step a fact, and says it in a sentence. It changes the truck in p and
// nothing that the truck shares with others.
func stepOn(p *plant.Plant, x LineStep) (string, *Problem) {
	t := p.FindTruck(x.Truck)
	switch {
	case t == nil:
		return "", noSuch("truck", x.Truck, truckNames(p))
	case x.Off && x.Station+x.Feeder != "":
		return "", invalid("off", fmt.Sprintf("Truck %s came off the line, and something else is said of it.", t.ID), "Give each thing that happened a row of its own.")
	case !x.Off && x.Station+x.Feeder == "":
		return "", invalid("station", fmt.Sprintf("What happened to truck %s is not said.", t.ID), "Name the station that it entered, say that it came off the line, or name the feeder that arrived.")
	case x.Day == calendar.None:
		return "", invalid("day", fmt.Sprintf("The day on which it happened to truck %s is missing.", t.ID), "Give the day.")
	case x.Day > p.AsOf.Date():
		return "", notYet(p, x.Day)
	case t.Line.Off != calendar.None:
		return "", offAlready(t)
	case x.Feeder != "":
		return arrived(t, x)
	case x.Off:
		return cameOff(p, t, x.Day)
	}
	return entered(p, t, x)
}

func notYet(p *plant.Plant, day calendar.Date) *Problem {
	return invalid("day", fmt.Sprintf("%s has not come yet: the plant stands as of %s.", day, p.AsOf), "Report progress up to that day first, which moves the plant on, or give an earlier day.")
}

func offAlready(t *plant.Truck) *Problem {
	return &Problem{Kind: Conflict, Title: "The truck is off the line", Detail: fmt.Sprintf("Truck %s came off the line on %s.", t.ID, t.Line.Off), Next: "If it slips now, report which stage overran or which test failed. If that day is wrong, undo the revision that says so."}
}

// arrived takes a feeder off those that the truck waits for.
func arrived(t *plant.Truck, x LineStep) (string, *Problem) {
	is := func(f plant.Feeder) bool {
		return f.Name == x.Feeder && (x.Station == "" || f.Station == x.Station)
	}
	var known, at []string
	for _, f := range t.Line.Feeders {
		known = append(known, f.Name)
		if is(f) {
			at = append(at, f.Station)
		}
	}
	switch {
	case len(known) == 0:
		return "", &Problem{Kind: Conflict, Title: "The truck waits for nothing", Detail: fmt.Sprintf("No station waits for a feeder of truck %s.", t.ID), Next: "Leave the row out."}
	case len(at) == 0:
		p := noSuch("feeder", x.Feeder, known)
		p.Detail = fmt.Sprintf("Truck %s waits for no %q", t.ID, x.Feeder)
		if x.Station != "" {
			p.Detail += fmt.Sprintf(" at %s", x.Station)
		}
		p.Detail += fmt.Sprintf(", but for: %s.", strings.Join(known, ", "))
		return "", p
	case len(at) > 1:
		return "", invalid("station", fmt.Sprintf("Several stations wait for %q of truck %s: %s.", x.Feeder, t.ID, strings.Join(at, ", ")), "Name the station for which it arrived.")
	}
	t.Line.Feeders = slices.DeleteFunc(slices.Clone(t.Line.Feeders), is)
	return fmt.Sprintf("The %s of truck %s arrived on %s.", x.Feeder, t.ID, x.Day), nil
}

// entered has the truck stand at a station. What stations behind it waited for, it waits for
// no more.
func entered(p *plant.Plant, t *plant.Truck, x LineStep) (string, *Problem) {
	place := func(id string) int {
		return slices.IndexFunc(p.Line.Stations, func(s plant.Station) bool { return s.ID == id })
	}
	to, at := place(x.Station), place(t.Line.Station)
	switch {
	case to < 0:
		return "", noSuch("station", x.Station, names(p.Line.Stations, func(s *plant.Station) string { return s.ID }))
	case to < at:
		return "", &Problem{
			Kind: Conflict, Title: "A truck does not go back on the line",
			Detail: fmt.Sprintf("Truck %s stands at %s since %s, which comes after %s.", t.ID, t.Line.Station, t.Line.Since, x.Station),
			Next:   "If it was put there by mistake, undo the revision that says so, or correct the place of the truck itself.",
		}
	case to > at:
		if err := mayLeave(p, t, x.Day, to); err != nil {
			return "", err
		}
	}
	t.Line.Station, t.Line.Since, t.Line.Enters = x.Station, x.Day, calendar.None
	t.Line.Feeders = slices.DeleteFunc(slices.Clone(t.Line.Feeders), func(f plant.Feeder) bool { return place(f.Station) < to })
	return fmt.Sprintf("Truck %s entered %s on %s.", t.ID, x.Station, x.Day), nil
}

// cameOff has the truck come off the line.
func cameOff(p *plant.Plant, t *plant.Truck, day calendar.Date) (string, *Problem) {
	if err := mayLeave(p, t, day, len(p.Line.Stations)); err != nil {
		return "", err
	}
	t.Line = plant.Place{Off: day, Since: calendar.None, Enters: calendar.None, Overrides: t.Line.Overrides}
	return fmt.Sprintf("Truck %s came off the line on %s.", t.ID, day), nil
}

// mayLeave is the problem with a truck that leaves all stations before one, by its index, on
// a day.
func mayLeave(p *plant.Plant, t *plant.Truck, day calendar.Date, to int) *Problem {
	if t.Line.Since != calendar.None && day < t.Line.Since {
		return invalid("day", fmt.Sprintf("Truck %s stands at %s since %s and cannot have left it on %s.", t.ID, t.Line.Station, t.Line.Since, day), "Give a later day, or correct first when it entered that station.")
	}
	for i := range p.Route {
		g := &p.Route[i]
		at := slices.IndexFunc(p.Line.Stations, func(s plant.Station) bool { return s.ID == g.Station })
		if at < 0 || at >= to || g.Visit != "" || !p.Applies(t, g) ||
			slices.ContainsFunc(t.Done, func(d plant.Done) bool { return d.Stage == g.ID }) ||
			slices.ContainsFunc(t.Running, func(r plant.Running) bool { return r.Stage == g.ID }) {
			continue
		}
		return &Problem{
			Kind: Conflict, Title: "Work at a station is not done",
			Detail: fmt.Sprintf("Truck %s still has its %s to do at %s, and cannot have left that station.", t.ID, spoken(g.ID), g.Station),
			Next:   "Report when the work ended first, as progress.",
			Extra:  map[string]any{"stage": g.ID},
		}
	}
	return nil
}
