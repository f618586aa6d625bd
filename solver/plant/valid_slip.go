package plant

import (
	"fmt"
	"slices"
	"strings"

	"wetdown/calendar"
)

// slipUses lists the keys that belong to each kind of slip; each must be there.
var slipUses = map[string][]string{
	LineOffMoved:  {"truck", "work_days"},
	StageOverran:  {"truck", "stage", "hours"},
	TestFailed:    {"truck", "stage"},
	BayDown:       {"bay", "over"},
	CrewAway:      {"crew", "heads", "over"},
	CustomerMoves: {"visit", "over"},
}

// slips looks at each slip: that it says what it must and no more, and that it
// can have happened.
func (q *inquiry) slips() {
	for i := range q.p.Slips {
		s := &q.p.Slips[i]
		at := place{key("slips"), nth(i, s.ID)}
		uses, ok := slipUses[s.Kind]
		if !ok {
			continue
		}
		given := []struct {
			key string
			yes bool
		}{
			{"truck", s.Truck != ""}, {"stage", s.Stage != ""}, {"bay", s.Bay != ""}, {"crew", s.Crew != ""}, {"visit", s.Visit != ""},
			{"work_days", s.Days != 0}, {"hours", s.Minutes != 0}, {"heads", s.Heads != 0},
			{"over", s.Over.From != calendar.None || s.Over.Through != calendar.None},
		}
		for _, g := range given {
			switch used := slices.Contains(uses, g.key); {
			case used && !g.yes:
				q.find(wrong{fmt.Sprintf("a slip of the kind %s needs %s", s.Kind, g.key), strings.Join(uses, ", "), "write " + g.key}, at.key(g.key)...)
			case g.yes && !used:
				q.find(wrong{fmt.Sprintf("a slip of the kind %s has no use for %s", s.Kind, g.key), strings.Join(uses, ", "), "take " + g.key + " away, or correct the kind"}, at.key(g.key)...)
			}
		}
		if slices.Contains(uses, "over") {
			q.slipDays(s, at)
		}
		q.happened(s, at)
		if now := q.p.AsOf.Date(); s.Known != calendar.None && now != calendar.None && s.Known > now {
			q.find(wrong{fmt.Sprintf("%s is known since %v, which is after as_of", s.ID, s.Known), "a day up to " + now.String(), "correct the day"}, at.key("known")...)
		}
	}
}

func (q *inquiry) slipDays(s *Slip, at place) {
	from, through := s.Over.From, s.Over.Through
	switch {
	case from == calendar.None && through != calendar.None:
		q.find(wrong{"the first day is missing", "a day YYYY-MM-DD", "write from"}, at.with(key("over"), key("from"))...)
	case from != calendar.None && through == calendar.None:
		q.find(wrong{"the last day is missing", "a day YYYY-MM-DD", "write through"}, at.with(key("over"), key("through"))...)
	case q.span(from, through, at.key("over")...) && through-from >= maxSlipDays:
		q.find(wrong{fmt.Sprintf("%v through %v are %d days", from, through, through-from+1), fmt.Sprintf("at most %d days", maxSlipDays), "choose a nearer last day"}, at.with(key("over"), key("through"))...)
	}
}

// happened looks whether what the slip says can have happened to the truck, visit
// or crew as it is.
func (q *inquiry) happened(s *Slip, at place) {
	i, known := q.known.at[aTruck][s.Truck]
	j, staged := q.known.at[aStage][s.Stage]
	switch s.Kind {
	case LineOffMoved:
		if known && !q.p.Trucks[i].onLine() {
			q.find(wrong{fmt.Sprintf("the line-off day of %s cannot move: it came off the line on %v", s.Truck, q.p.Trucks[i].Line.Off), "a truck that is not off the line", "say which stage overran instead: kind: " + StageOverran}, at.key("truck")...)
		}
	case StageOverran, TestFailed:
		if known && staged {
			q.slipStage(s, &q.p.Trucks[i], &q.p.Route[j], q.facts[i].stage[j], at)
		}
	case CrewAway:
		k, ok := q.known.at[aCrew][s.Crew]
		if !ok {
			return
		}
		most := q.p.Crews[k].Size
		for _, d := range q.p.Crews[k].Days {
			most = max(most, d.Size)
		}
		if s.Heads > most {
			q.find(wrong{fmt.Sprintf("%d heads of %s are away, which has %d at the most", s.Heads, s.Crew, most), fmt.Sprintf("1 to %d", most), "correct the heads"}, at.key("heads")...)
		}
	case CustomerMoves:
		if k, ok := q.known.at[aVisit][s.Visit]; ok && !q.p.Visits[k].Planned() {
			v := &q.p.Visits[k]
			q.find(wrong{fmt.Sprintf("%s is %s and cannot move any more", v.ID, v.Booking.State), "a visit that is requested, tentative or confirmed", "correct the visit, or take the slip away"}, at.key("visit")...)
		}
	}
}

func (q *inquiry) slipStage(s *Slip, t *Truck, g *Stage, is status, at place) {
	at = at.key("stage")
	switch {
	case is == notItsOwn:
		q.find(wrong{fmt.Sprintf("%s is not on the route of %s", g.ID, t.ID), "a stage that applies to the truck", "correct the stage or the truck"}, at...)
	case s.Kind == StageOverran && is == isDone:
		q.find(wrong{fmt.Sprintf("%s of %s is done and cannot overrun any more", g.ID, t.ID), "a stage that runs or is to come", "if it must be repeated, write kind: " + TestFailed}, at...)
	case s.Kind == StageOverran && is == isOpen && g.Length != LengthHours:
		q.find(wrong{fmt.Sprintf("%s has no hours to overrun: its length is that of a %s", g.ID, g.Length), "a stage with length: " + LengthHours, "change the visit's halves, or say which earlier stage overran"}, at...)
	case s.Kind == TestFailed && g.Visit != "":
		q.find(wrong{g.ID + " is a visit, which cannot fail", "a stage of the plant", "add a visit of the kind " + ReInspection + " instead"}, at...)
	case s.Kind == TestFailed && is == isOpen:
		q.find(wrong{fmt.Sprintf("%s of %s is neither done nor running and cannot have failed", g.ID, t.ID), "a stage that is done or runs", "if it needs longer, write kind: " + StageOverran}, at...)
	}
}
