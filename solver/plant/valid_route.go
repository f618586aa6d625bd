package plant

import (
	"fmt"
	"slices"
	"strings"
)

// route looks at stages and wishes: each alone, their order, and that the house
// has what those need that some truck goes through.
func (q *inquiry) route() {
	for i := range q.p.Route {
		q.stage(i)
	}
	q.cycles()
	q.oneStageAVisit()
	for i := range q.p.Wishes {
		w := &q.p.Wishes[i]
		at := place{key("wishes"), nth(i, w.ID)}
		q.crews(w.Crews, at)
		if q.wished[i] {
			q.bayKind(w.Bay, "the wish "+w.ID, at)
			q.heads(w.Crews, "the wish "+w.ID, at)
		}
	}
}

func (q *inquiry) stage(i int) {
	s := &q.p.Route[i]
	at := place{key("route"), nth(i, s.ID)}
	q.length(s, at)
	seen := map[string]bool{}
	for j, a := range s.After {
		to := at.with(key("after"), nth(j, a.Stage))
		if seen[a.Stage] {
			q.find(wrong{fmt.Sprintf("%s comes before %s twice", a.Stage, s.ID), "each stage once", "make the two one, with all waits"}, to...)
		}
		seen[a.Stage] = true
		if a.MaxWorkMinutes > 0 && a.MaxWorkMinutes < a.MinWorkMinutes {
			q.find(waits("working hours", a.MinWorkMinutes, a.MaxWorkMinutes), to.key("max_work_hours")...)
		}
		if a.MaxElapsedMinutes > 0 && a.MaxElapsedMinutes < a.MinElapsedMinutes {
			q.find(waits("hours of real time", a.MinElapsedMinutes, a.MaxElapsedMinutes), to.key("max_elapsed_hours")...)
		}
		if j, ok := q.known.at[aStage][a.Stage]; ok && s.Station != "" && q.p.Route[j].Station == "" {
			q.find(wrong{
				fmt.Sprintf("%s takes place on the line, but comes after %s, which takes place after line-off", s.ID, a.Stage),
				"after a stage on the line: other stages on the line", "take the stage out of after, or the station away from " + s.ID,
			}, to...)
		}
	}
	q.crews(s.Crews, at)
	if s.HoldBefore > 0 && s.Bay == "" {
		q.find(wrong{s.ID + " holds a bay before it starts, but needs no bay", "", "name the kind of bay, or take hold_before_parts away"}, at.key("hold_before_parts")...)
	}
	if !q.applied[i] {
		return // the house need not have what no truck needs; see Warnings
	}
	if s.Station != "" {
		if w := q.known.check(aStation, s.Station); !w.ok() {
			w.what = fmt.Sprintf("%s takes place at the station %s, which the line does not have", s.ID, quoted(s.Station))
			q.findIf(setPlaces[aStation], w, at.key("station")...)
		}
	}
	q.bayKind(s.Bay, s.ID, at)
	q.heads(s.Crews, s.ID, at)
}

func waits(unit string, least, most int) wrong {
	return wrong{
		fmt.Sprintf("the longest wait, %s %s, is shorter than the least, %s", formatHours(most), unit, formatHours(least)),
		"a longest wait of at least the least", "correct one of the two",
	}
}

// length looks whether the length of a stage is found in one way.
func (q *inquiry) length(s *Stage, at place) {
	hours := s.Hours != ByContent{}
	switch {
	case s.Length == LengthHours && s.Visit != "":
		q.find(wrong{s.ID + " is a visit, whose length its delegation decides", "length: " + LengthVisit, "write length: " + LengthVisit + " and take the hours away"}, at.key("length")...)
	case s.Length == LengthVisit && s.Visit == "":
		q.find(wrong{s.ID + " has the length of a visit, but is none", oneOf(visitKinds), "write the kind under visit, or another length"}, at.key("visit")...)
	case s.Length == LengthDrive && s.Visit != "":
		q.find(wrong{s.ID + " is a visit and a drive at once", "one of the two", "take visit away, or write length: " + LengthVisit}, at.key("length")...)
	case s.Length == LengthHours && !hours:
		q.find(wrong{s.ID + " has no hours", "the likely value, or [least, likely, most]", "write hours"}, at.key("hours")...)
	case s.Length == LengthHours:
		for _, c := range contents {
			if h := s.Hours.Of(c); h.LikelyMinutes == 0 && (c == Medium || h != s.Hours.Medium) {
				q.find(wrong{fmt.Sprintf("%s takes no time for %s work content", s.ID, c), "more than 0 hours", "correct the hours; where a stage does not apply say so under needs"}, at.key(hoursKey(c))...)
			}
		}
	case hours && (s.Length == LengthVisit || s.Length == LengthDrive):
		q.find(wrong{fmt.Sprintf("%s has hours, but its length is that of a %s", s.ID, s.Length), "", "take the hours away, or write length: " + LengthHours}, at.key("hours")...)
	}
	if len(s.Extra) > 0 && (s.Length == LengthVisit || s.Length == LengthDrive) {
		q.find(wrong{fmt.Sprintf("%s has extra hours, but its length is that of a %s", s.ID, s.Length), "", "take extra away, or write length: " + LengthHours}, at.key("extra")...)
	}
}

func hoursKey(content string) string {
	if content == Medium {
		return "hours"
	}
	return content + "_hours"
}

// crews looks whether each crew is needed once and is enough of a crew.
func (q *inquiry) crews(needs []Need, at place) {
	seen := map[string]bool{}
	for j, n := range needs {
		if seen[n.Crew] {
			q.find(wrong{fmt.Sprintf("the crew %s is needed twice", n.Crew), "each crew once", "add up the heads in one of them"}, at.with(key("crews"), nth(j, n.Crew))...)
		}
		seen[n.Crew] = true
	}
}

// heads looks whether the crews are there and large enough on some day.
func (q *inquiry) heads(needs []Need, what string, at place) {
	for j, n := range needs {
		to := at.with(key("crews"), nth(j, n.Crew))
		i, ok := q.known.at[aCrew][n.Crew]
		if !ok {
			q.findIf(setPlaces[aCrew], q.known.check(aCrew, n.Crew), to.key("crew")...)
			continue
		}
		most := q.p.Crews[i].Size
		for _, d := range q.p.Crews[i].Days {
			most = max(most, d.Size)
		}
		if n.Heads > most {
			q.findIf(place{key("crews"), nth(i, "")}, wrong{
				fmt.Sprintf("%s needs %d of the crew %s, which never has more than %d", what, n.Heads, n.Crew, most),
				fmt.Sprintf("up to %d", most), "correct the need, or the heads of the crew",
			}, to.key("heads")...)
		}
	}
}

// bayKind looks whether some bay is of the kind.
func (q *inquiry) bayKind(kind, what string, at place) {
	if kind == "" {
		return
	}
	var all []string
	for i := range q.p.Bays {
		if slices.Contains(q.p.Bays[i].Kinds, kind) {
			return
		}
		all = append(all, q.p.Bays[i].Kinds...)
	}
	slices.Sort(all)
	w := unknownWord(kind, slices.Compact(all))
	w.what = fmt.Sprintf("%s needs a bay of the kind %s, and no bay is of that kind", what, quoted(kind))
	if strings.HasPrefix(w.next, "write one") {
		w.next = "add the kind to a bay that can do it, or add a bay"
	}
	q.findIf(setPlaces[aBay], w, at.key("bay")...)
}

// oneStageAVisit looks whether a kind of visit belongs to one stage.
func (q *inquiry) oneStageAVisit() {
	first := map[string]string{}
	for i, s := range q.p.Route {
		if s.Visit == "" {
			continue
		}
		if f, again := first[s.Visit]; again {
			q.find(wrong{
				fmt.Sprintf("%s and %s are both the visit %s", f, s.ID, s.Visit),
				"one stage for each kind of visit", "give one of them another kind",
			}, key("route"), nth(i, s.ID), key("visit"))
			continue
		}
		first[s.Visit] = s.ID
	}
}

// cycles looks for stages that come before themselves, and names each ring once.
func (q *inquiry) cycles() {
	const (
		fresh = iota
		entered
		left
	)
	state := make([]int, len(q.p.Route))
	var way []int // stages entered, each after the next
	var walk func(i int)
	walk = func(i int) {
		state[i] = entered
		way = append(way, i)
		for j, a := range q.p.Route[i].After {
			b, ok := q.known.at[aStage][a.Stage]
			switch {
			case !ok || state[b] == left:
			case state[b] == fresh:
				walk(b)
			default:
				q.ring = true
				ring := way[slices.Index(way, b):]
				names := []string{q.p.Route[b].ID}
				for k := len(ring) - 1; k >= 0; k-- {
					names = append(names, q.p.Route[ring[k]].ID)
				}
				what := "the stages come after each other in a ring: " + strings.Join(names, ", then ")
				if len(ring) == 1 {
					what = names[0] + " comes after itself"
				}
				q.find(wrong{what, "an order without a ring", "take away the stage that need not come first"},
					key("route"), nth(i, q.p.Route[i].ID), key("after"), nth(j, a.Stage))
			}
		}
		way = way[:len(way)-1]
		state[i] = left
	}
	for i := range q.p.Route {
		if state[i] == fresh {
			walk(i)
		}
	}
}
