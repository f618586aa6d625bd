package plant

import (
	"fmt"
	"slices"
	"strings"

	"wetdown/calendar"
)

// trucks looks at each truck: what it has done, what runs, and whether the house
// can take it through its route.
func (q *inquiry) trucks() {
	delivering := slices.ContainsFunc(q.p.Route, func(s Stage) bool { return s.Delivers })
	if !delivering && len(q.p.Trucks) > 0 && len(q.p.Route) > 0 {
		q.find(wrong{"no stage delivers the truck", "one stage with delivers: true", "write it at the last stage"}, key("route"))
	}
	for i := range q.p.Trucks {
		t := &q.p.Trucks[i]
		at := place{key("trucks"), nth(i, t.ID)}
		if delivering {
			q.delivery(i, at)
		}
		q.reserved(i, at)
		q.done(i, at)
		q.running(i, at)
		q.standing(i, at)
		q.overruns(i, at)
		q.fits(i, at)
		q.passed(i, at)
	}
	q.sharedBays()
}

func (q *inquiry) delivery(i int, at place) {
	var by []string
	for j, s := range q.p.Route {
		if s.Delivers && q.facts[i].stage[j] != notItsOwn {
			by = append(by, s.ID)
		}
	}
	switch {
	case len(by) == 0:
		q.find(wrong{"no stage delivers " + q.p.Trucks[i].ID + ": those that deliver need features that it does not have", "one stage that delivers it", "look at needs of the stages with delivers: true"}, at...)
	case len(by) > 1:
		q.find(wrong{q.p.Trucks[i].ID + " is delivered by several stages: " + strings.Join(by, ", "), "one stage that delivers it", "look at needs of these stages"}, at...)
	}
}

// before returns the stages of the truck that come before a stage; those that do
// not apply are passed through.
func (q *inquiry) before(truck, stage int) []int {
	if q.ring {
		return nil
	}
	var list []int
	seen := make([]bool, len(q.p.Route))
	var walk func(int)
	walk = func(s int) {
		for _, a := range q.p.Route[s].After {
			b, ok := q.known.at[aStage][a.Stage]
			if !ok || seen[b] {
				continue
			}
			seen[b] = true
			if q.facts[truck].stage[b] != notItsOwn {
				list = append(list, b)
				continue
			}
			walk(b)
		}
	}
	walk(stage)
	return list
}

// reserved looks whether a truck can still hold its place for an order to come.
func (q *inquiry) reserved(i int, at place) {
	t := &q.p.Trucks[i]
	r := t.Reserved
	if !r.set() {
		return
	}
	at = at.with(key("reserved"))
	switch now := q.p.AsOf; {
	case r.Until < now.Date() && now != calendar.NoMoment:
		q.find(wrong{fmt.Sprintf("%s held its place until %v, which is before as_of", t.ID, r.Until), "a day from as_of on", "take the section away if it was ordered; otherwise set a later day, or take the truck and its visits out"}, at.key("until")...)
	case t.Line.Station != "" || t.Line.Off != calendar.None:
		q.find(wrong{fmt.Sprintf("%s is only reserved, and is built already", t.ID), "trucks that have not entered the line", "take the section away if it is ordered, or write when it enters the line"}, at...)
	}
}

func (q *inquiry) done(i int, at place) {
	t := &q.p.Trucks[i]
	ended := map[string]calendar.Moment{}
	for _, d := range t.Done {
		ended[d.Stage] = d.Ended
	}
	seen := map[string]bool{}
	for j, d := range t.Done {
		to := at.with(key("done"), nth(j, d.Stage))
		k, ok := q.known.at[aStage][d.Stage]
		if !ok {
			continue
		}
		s := &q.p.Route[k]
		switch {
		case seen[d.Stage]:
			q.find(wrong{d.Stage + " is done twice", "each stage once", "take one away"}, to.key("stage")...)
			continue
		case d.Ended > q.p.AsOf && q.p.AsOf != calendar.NoMoment:
			q.find(wrong{fmt.Sprintf("%s ended at %v, which is after as_of", d.Stage, d.Ended), "a moment up to " + q.p.AsOf.String(), "correct the moment, or write the stage under running"}, to.key("ended")...)
		case s.Station == "" && t.onLine():
			q.find(wrong{fmt.Sprintf("%s is done, but %s is still on the line", d.Stage, t.ID), "stages that take place on the line", "write line_off with the day it came off, or take the stage away"}, to.key("stage")...)
		}
		seen[d.Stage] = true
		for _, b := range q.before(i, k) {
			name := q.p.Route[b].ID
			switch q.facts[i].stage[b] {
			case isDone:
				if ended[name] > d.Ended && d.Ended != calendar.NoMoment {
					q.find(wrong{fmt.Sprintf("%s ended at %v, before %s, which comes before it, ended at %v", d.Stage, d.Ended, name, ended[name]), "ends in the order of the route", "correct one of the two moments"}, to.key("ended")...)
				}
			default:
				if !s.Lasting && s.Visit == "" {
					q.find(wrong{fmt.Sprintf("%s is done, but %s, which comes before it, is not", d.Stage, name), "after the stages before it are done", "write when " + name + " ended, or take " + d.Stage + " away"}, to.key("stage")...)
				}
			}
		}
	}
}

func (q *inquiry) running(i int, at place) {
	t := &q.p.Trucks[i]
	seen := map[string]bool{}
	holds := "" // the stage that holds a bay
	for j, r := range t.Running {
		to := at.with(key("running"), nth(j, r.Stage))
		k, ok := q.known.at[aStage][r.Stage]
		if !ok {
			continue
		}
		s := &q.p.Route[k]
		over := t.done(r.Stage)
		applies := q.facts[i].applies(s)
		switch {
		case seen[r.Stage]:
			q.find(wrong{r.Stage + " runs twice", "each stage once", "take one away"}, to.key("stage")...)
			continue
		case over:
			q.find(wrong{r.Stage + " is done and runs", "one of the two", "take it away from done or from running"}, to.key("stage")...)
		case !applies:
			what := "does not have every feature that it needs: " + strings.Join(s.Needs, ", ")
			if q.facts[i].has(s.Needs) {
				what = "has no visit of the kind " + s.Visit + " that is requested, tentative or confirmed"
			}
			q.find(wrong{fmt.Sprintf("%s runs, but %s %s", r.Stage, t.ID, what), "a stage that applies to the truck", "correct the truck, or take the stage away"}, to.key("stage")...)
		case s.Station == "" && t.onLine():
			q.find(wrong{fmt.Sprintf("%s runs, but %s is still on the line", r.Stage, t.ID), "stages that take place on the line", "write line_off with the day it came off, or take the stage away"}, to.key("stage")...)
		}
		seen[r.Stage] = true
		if r.Started > q.p.AsOf && q.p.AsOf != calendar.NoMoment {
			q.find(wrong{fmt.Sprintf("%s started at %v, which is after as_of", r.Stage, r.Started), "a moment up to " + q.p.AsOf.String(), "correct the moment, or leave the stage to the plan"}, to.key("started")...)
		}
		for _, b := range q.before(i, k) {
			if name := q.p.Route[b].ID; q.facts[i].stage[b] != isDone && !over && !s.Lasting && s.Visit == "" {
				q.find(wrong{fmt.Sprintf("%s runs, but %s, which comes before it, is not done", r.Stage, name), "after the stages before it are done", "write when " + name + " ended, or take " + r.Stage + " away"}, to.key("stage")...)
			}
		}
		q.runningBay(t, s, &r, to)
		if s.Bay != "" {
			if holds != "" {
				q.find(wrong{fmt.Sprintf("%s and %s run at once, and each holds a bay", holds, r.Stage), "one bay for a truck at a time", "write the one that is over under done"}, to.key("stage")...)
			}
			holds = r.Stage
		}
	}
}

// standing looks whether the truck can stand where it is said to.
func (q *inquiry) standing(i int, at place) {
	t := &q.p.Trucks[i]
	to := at.with(key("standing"))
	k, ok := q.known.at[aStage][t.Standing.Stage]
	if !ok {
		return
	}
	s := &q.p.Route[k]
	switch name := t.Standing.Stage; {
	case s.Bay == "" || s.HoldBefore == 0:
		q.find(wrong{fmt.Sprintf("%s stands ready for %s, which takes no bay before it starts", t.ID, name), "a stage with hold_before_parts", "take the section away, or write what runs under running"}, to.key("stage")...)
		return
	case q.facts[i].stage[k] == isDone || q.facts[i].stage[k] == isRunning:
		q.find(wrong{fmt.Sprintf("%s stands ready for %s, which has begun", t.ID, name), "a stage that has not begun", "take the section away"}, to.key("stage")...)
	case s.Station == "" && t.onLine():
		q.find(wrong{fmt.Sprintf("%s stands ready for %s, but is still on the line", t.ID, name), "stages that take place on the line", "write line_off with the day it came off, or take the section away"}, to.key("stage")...)
	}
	for _, r := range t.Running {
		if r.Bay != "" {
			q.find(wrong{fmt.Sprintf("%s stands in %s, and its %s runs in %s", t.ID, t.Standing.Bay, r.Stage, r.Bay), "one bay for a truck at a time", "write the work that is over under done, or take the section away"}, to.key("bay")...)
		}
	}
	q.standsIn(t, s, t.Standing.Bay, to)
}

// runningBay looks whether running work holds the bay that it needs.
func (q *inquiry) runningBay(t *Truck, s *Stage, r *Running, to place) {
	switch {
	case s.Bay == "" && r.Bay != "":
		q.find(wrong{fmt.Sprintf("%s needs no bay, but holds %s", r.Stage, r.Bay), "no bay", "take the bay away"}, to.key("bay")...)
	case s.Bay != "" && r.Bay == "":
		q.find(wrong{fmt.Sprintf("%s needs a bay of the kind %s, and none is named", r.Stage, s.Bay), oneOf(q.baysOf(s.Bay)), "write the bay in which it runs"}, to.key("bay")...)
	case s.Bay != "":
		q.standsIn(t, s, r.Bay, to)
	}
}

// standsIn looks whether a bay is of the kind that a stage needs, and takes the truck.
func (q *inquiry) standsIn(t *Truck, s *Stage, bay string, to place) {
	k, ok := q.known.at[aBay][bay]
	switch {
	case !ok:
	case !slices.Contains(q.p.Bays[k].Kinds, s.Bay):
		q.find(wrong{fmt.Sprintf("%s needs a bay of the kind %s, and %s is not one", s.ID, s.Bay, bay), oneOf(q.baysOf(s.Bay)), "write the bay in which the truck stands, or add the kind to the bay"}, to.key("bay")...)
	case q.p.Bays[k].limit(t) != "":
		q.find(wrong{fmt.Sprintf("%s does not fit into %s, which takes %s", t.ID, bay, q.p.Bays[k].takes()), "a bay that takes the truck", "correct the bay, its limits, or the figures of the truck"}, to.key("bay")...)
	}
}

func (q *inquiry) baysOf(kind string) []string {
	var names []string
	for i := range q.p.Bays {
		if slices.Contains(q.p.Bays[i].Kinds, kind) {
			names = append(names, q.p.Bays[i].ID)
		}
	}
	return names
}

// sharedBays looks for two trucks that work or stand in one bay now.
func (q *inquiry) sharedBays() {
	type holder struct{ truck, stage string }
	first := map[string]holder{}
	stands := map[string]string{} // trucks, by bay
	for i := range q.p.Trucks {
		t := &q.p.Trucks[i]
		if at := t.Standing; at.Stage != "" && at.Bay != "" {
			if h, taken := stands[at.Bay]; taken {
				q.find(wrong{fmt.Sprintf("%s stands in %s, where %s stands", t.ID, at.Bay, h), "one truck in a bay", "correct one of the two bays, or take one section away"},
					key("trucks"), nth(i, t.ID), key("standing"), key("bay"))
			}
			stands[at.Bay] = t.ID
		}
	}
	for i := range q.p.Trucks {
		t := &q.p.Trucks[i]
		for j, r := range t.Running {
			if h, taken := stands[r.Bay]; taken && h != t.ID {
				q.find(wrong{fmt.Sprintf("%s runs in %s, where %s stands ready", r.Stage, r.Bay, h), "one truck in a bay", "correct one of the two bays, or write the work that is over under done"},
					key("trucks"), nth(i, t.ID), key("running"), nth(j, r.Stage), key("bay"))
			}
			if r.Bay == "" {
				continue
			}
			h, taken := first[r.Bay]
			if !taken {
				first[r.Bay] = holder{t.ID, r.Stage}
				continue
			}
			if h.truck != t.ID {
				q.find(wrong{fmt.Sprintf("%s runs in %s, where %s of %s runs", r.Stage, r.Bay, h.stage, h.truck), "one truck in a bay", "correct one of the two bays, or write the work that is over under done"},
					key("trucks"), nth(i, t.ID), key("running"), nth(j, r.Stage), key("bay"))
			}
		}
	}
}

func (q *inquiry) overruns(i int, at place) {
	t := &q.p.Trucks[i]
	for j, o := range t.Overruns {
		to := at.with(key("overruns"), nth(j, o.Stage))
		k, ok := q.known.at[aStage][o.Stage]
		switch {
		case !ok:
		case o.Minutes == 0:
			q.find(wrong{o.Stage + " overruns by no time", "hours other than 0", "write the hours, or take the overrun away"}, to.key("hours")...)
		case q.facts[i].stage[k] == isDone:
			q.find(wrong{o.Stage + " is done and cannot overrun any more", "stages still to come", "take the overrun away"}, to.key("stage")...)
		case q.facts[i].stage[k] == isRunning:
			q.find(wrong{o.Stage + " runs: what is left of it is said there", "stages still to come", "write remaining_hours under running, and take the overrun away"}, to.key("stage")...)
		case q.p.Route[k].Length != LengthHours:
			q.find(wrong{fmt.Sprintf("%s has no hours to overrun: its length is that of a %s", o.Stage, q.p.Route[k].Length), "stages with length: " + LengthHours, "take the overrun away"}, to.key("stage")...)
		}
	}
}

// fits looks whether some bay takes the truck for each open stage, and says which
// limit fails and how far the bays go.
func (q *inquiry) fits(i int, at place) {
	t := &q.p.Trucks[i]
	var looked []string
	for j := range q.p.Route {
		s := &q.p.Route[j]
		if q.facts[i].stage[j] != isOpen || s.Bay == "" || slices.Contains(looked, s.Bay) {
			continue
		}
		looked = append(looked, s.Bay)
		bays := q.baysOf(s.Bay)
		if len(bays) == 0 {
			continue // said of the stage
		}
		var best *Bay // the bay that goes furthest
		fails := ""
		for _, id := range bays {
			b := &q.p.Bays[q.known.at[aBay][id]]
			f := b.limit(t)
			if f == "" {
				best = nil
				break
			}
			if best == nil || furthest(f) > furthest(fails) || f == fails && b.reach(f) > best.reach(f) {
				best, fails = b, f
			}
		}
		if best == nil {
			continue
		}
		if fails == "options" {
			q.find(wrong{
				fmt.Sprintf("no bay of the kind %s takes %s for %s: %s has the room, but is only for trucks with %s", s.Bay, t.ID, s.ID, best.ID, strings.Join(best.Needs, ", ")),
				"", "give the truck what it lacks, take the need away from a bay, or add a bay that takes the truck",
			}, at.key(fails)...)
			continue
		}
		figure := map[string]string{
			"length_ft": fmt.Sprintf("%v ft long", t.LengthFt),
			"height_ft": fmt.Sprintf("%v ft high", t.HeightFt),
			"flow_gpm":  fmt.Sprintf("rated at %d gpm", t.FlowGPM),
		}[fails]
		q.find(wrong{
			fmt.Sprintf("no bay of the kind %s takes %s for %s: it is %s, and the largest for it, %s, takes %s", s.Bay, t.ID, s.ID, figure, best.ID, best.takes()),
			fmt.Sprintf("up to %v", best.reach(fails)), "correct the figure or the limit of a bay, or add a bay that takes the truck",
		}, at.key(fails)...)
	}
}

// furthest orders limits by how many of the limits before are kept when they
// fail; see Bay.limit.
func furthest(limit string) int {
	return slices.Index([]string{"length_ft", "height_ft", "flow_gpm", "options"}, limit)
}

// reach returns how far the limit goes.
func (b *Bay) reach(limit string) float64 {
	switch limit {
	case "length_ft":
		return b.MaxLengthFt
	case "height_ft":
		return b.MaxHeightFt
	case "flow_gpm":
		return float64(b.MaxFlowGPM)
	}
	return 0 // what it needs has no size
}

// passed looks for work on the line that is open although the truck has left the
// station. A visit may be broken, work may not.
func (q *inquiry) passed(i int, at place) {
	t := &q.p.Trucks[i]
	for j := range q.p.Route {
		s := &q.p.Route[j]
		k, ok := q.known.at[aStation][s.Station]
		if s.Station == "" || !ok || s.Visit != "" || q.facts[i].stage[j] != isOpen {
			continue
		}
		now, on := q.known.at[aStation][t.Line.Station]
		if !t.onLine() || on && now > k {
			q.find(wrong{
				fmt.Sprintf("%s takes place at the station %s, which %s has left, and is not done", s.ID, s.Station, t.ID),
				"", "write under done when it ended",
			}, at.key("done")...)
		}
	}
}
