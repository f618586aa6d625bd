package plant

import (
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"wetdown/calendar"
)

// maxHorizonDays is how far may be planned at once.
const maxHorizonDays = 3 * 366

func ordinal(i int) string { return "number " + strconv.Itoa(i+1) }

// house looks at the plant itself: its days, calendars, bays and crews.
func (q *inquiry) house() {
	q.horizon()
	q.parts()
	for i := range q.p.Calendars {
		q.calendar(i)
	}
	q.workers()
	for i := range q.p.Bays {
		q.bay(i)
	}
	for i, c := range q.p.Crews {
		for j, d := range c.Days {
			q.span(d.From, d.Through, key("crews"), nth(i, c.ID), key("days"), nth(j, d.From.String()))
		}
	}
	for i := range q.p.Notice {
		if i > 0 && q.p.Notice[i].DaysBefore >= q.p.Notice[i-1].DaysBefore {
			n, last := q.p.Notice[i], q.p.Notice[i-1]
			q.find(wrong{
				fmt.Sprintf("the rung %s comes %d days before the visit, the rung %s above it %d", n.ID, n.DaysBefore, last.ID, last.DaysBefore),
				"rungs from the furthest to the nearest", "sort them, or correct the days",
			}, key("notice"), nth(i, n.ID), key("days_before"))
		}
	}
}

func (q *inquiry) horizon() {
	p, h := q.p, q.p.Horizon
	if _, err := calendar.NewGrid(p.Zone, 0, 0, nil); err != nil && p.Zone != "" {
		q.find(wrong{"there is no zone " + quoted(p.Zone), "an IANA zone such as America/Chicago", "correct its name"}, key("zone"))
	}
	if !q.span(h.From, h.Through, key("horizon")) {
		return
	}
	if n := int(h.Through-h.From) + 1; n > maxHorizonDays {
		q.find(wrong{fmt.Sprintf("the horizon has %d days", n), fmt.Sprintf("at most %d days", maxHorizonDays), "choose a nearer last day"}, key("horizon"), key("through"))
	}
	if p.AsOf != calendar.NoMoment && !h.Contains(p.AsOf.Date()) {
		q.find(wrong{
			fmt.Sprintf("as_of, %v, lies outside the horizon from %v through %v", p.AsOf, h.From, h.Through),
			"a moment within the horizon", "move the horizon along, or correct as_of",
		}, key("as_of"))
	}
}

func (q *inquiry) parts() {
	if len(q.p.Parts) == 0 {
		q.find(wrong{"the day has no parts", "at least one", "list them, or take the key away for morning and afternoon"}, key("parts"))
	}
	for i, part := range q.p.Parts {
		if i == 0 {
			continue // it begins at midnight, whatever it says
		}
		before := q.p.Parts[i-1].From
		if i == 1 {
			before = 0
		}
		if part.From <= before {
			q.find(wrong{
				fmt.Sprintf("the part %s begins at %v, not after the part before it", part.ID, part.From),
				"parts in the order of the day; the first begins at 00:00", "sort them, or correct the time",
			}, key("parts"), nth(i, part.ID), key("from"))
		}
	}
}

// calendar passes on what the calendar says of its rules.
func (q *inquiry) calendar(i int) {
	c := &q.p.Calendars[i]
	for _, r := range c.Rules.Check() {
		if r.In == calendar.InHolidays && !slices.Contains(calendar.HolidaySets(), c.Rules.Holidays[r.Index].Set) {
			continue // said of the set
		}
		at := []step{key("calendars"), nth(i, c.ID), key(r.In)}
		switch r.In {
		case calendar.InWeek:
			at = append(at, key(weekdayNames[r.Index]))
			if r.Shift >= 0 {
				at = append(at, nth(r.Shift, ""))
			}
		case calendar.InOvertime:
			at = append(at, nth(r.Index, ""))
			if r.Shift >= 0 {
				at = append(at, key("shifts"), nth(r.Shift, ""))
			}
		default:
			at = append(at, nth(r.Index, ""))
		}
		if r.In == calendar.InClosures {
			if c := c.Rules.Closures[r.Index]; c.From == calendar.None || c.Through == calendar.None || !q.span(c.From, c.Through, at...) {
				continue
			}
			r.Text = "the closure " + r.Text
		}
		what, next, cut := strings.Cut(r.Text, "; ")
		if !cut {
			what, next, _ = strings.Cut(r.Text, ": ")
		}
		if r.Break >= 0 {
			what = "the break " + ordinal(r.Break) + " " + what
		} else if r.Shift >= 0 {
			what = "the shift " + what
		}
		q.find(wrong{what, "", next}, at...)
	}
}

// workers looks whether whoever works has a calendar with work in it.
func (q *inquiry) workers() {
	p := q.p
	seen := map[string]bool{}
	look := func(id, who string, at ...step) {
		i, ok := q.known.at[aCalendar][id]
		if !ok || seen[id] {
			return
		}
		seen[id] = true
		if r := p.Calendars[i].Rules; r.Week.Minutes() == 0 && len(r.Overtime) == 0 {
			q.findIf(place{key("calendars"), nth(i, "")}, wrong{
				fmt.Sprintf("the calendar %s, by which %s works, has no work in it", id, who),
				"a pattern, or shifts on at least one day of the week", "give the calendar a pattern or a week, or name another one here",
			}, at...)
		}
	}
	look(p.Calendar, "the plant", key("calendar"))
	for i, d := range p.Departments {
		look(d.Calendar, "the department "+d.ID, key("departments"), nth(i, d.ID), key("calendar"))
	}
	for i, c := range p.Crews {
		look(c.Calendar, "the crew "+c.ID, key("crews"), nth(i, c.ID), key("calendar"))
	}
	look(p.Line.Calendar, "the line", key("line"), key("calendar"))
}

// withoutStandard says once what many elements of a standard list would say,
// since nobody wrote them.
func (q *inquiry) withoutStandard(found []finding) []finding {
	p := q.p
	standard := map[string]bool{
		"departments": reflect.DeepEqual(p.Departments, DefaultDepartments()),
		"route":       reflect.DeepEqual(p.Route, DefaultRoute()),
		"wishes":      reflect.DeepEqual(p.Wishes, DefaultWishes()),
	}
	said := map[string]bool{}
	var kept []finding
	for _, f := range found {
		name := f.at[0].key
		if !standard[name] {
			kept = append(kept, f)
			continue
		}
		if said[name+f.what] {
			continue
		}
		said[name+f.what] = true
		f.what = "for the standard " + name + ": " + f.what
		f.next = "add it to the file, or write the key " + name + " yourself"
		f.at = f.at[:1]
		kept = append(kept, f)
	}
	return kept
}

func (q *inquiry) bay(i int) {
	b := &q.p.Bays[i]
	at := place{key("bays"), nth(i, b.ID)}
	for j, c := range b.Closures {
		q.span(c.From, c.Through, at.with(key("closures"), nth(j, c.From.String()))...)
	}
	if len(q.p.Trucks) == 0 {
		return
	}
	shortest, lowest := &q.p.Trucks[0], &q.p.Trucks[0]
	for j := range q.p.Trucks {
		t := &q.p.Trucks[j]
		if l := b.limit(t); l == "" || l == "options" { // trucks for it may come
			return
		}
		if t.LengthFt < shortest.LengthFt {
			shortest = t
		}
		if t.HeightFt < lowest.HeightFt {
			lowest = t
		}
	}
	q.find(wrong{
		fmt.Sprintf("no truck of the file fits into the bay %s, which takes %s", b.ID, b.takes()),
		fmt.Sprintf("limits that some truck keeps: the shortest, %s, is %v ft long, the lowest, %s, %v ft high", shortest.ID, shortest.LengthFt, lowest.ID, lowest.HeightFt),
		"correct the limits of the bay, or take the bay away",
	}, at...)
}

// limit returns the key of the truck's figure that is too large for the bay, its
// options where it has not what the bay asks for, and "" if the bay takes it.
func (b *Bay) limit(t *Truck) string {
	switch {
	case b.MaxLengthFt > 0 && t.LengthFt > b.MaxLengthFt:
		return "length_ft"
	case b.MaxHeightFt > 0 && t.HeightFt > b.MaxHeightFt:
		return "height_ft"
	case b.MaxFlowGPM > 0 && t.FlowGPM > b.MaxFlowGPM:
		return "flow_gpm"
	case !t.Has(b.Needs):
		return "options"
	}
	return ""
}

// takes says what the bay takes.
func (b *Bay) takes() string {
	var limits []string
	if b.MaxLengthFt > 0 {
		limits = append(limits, fmt.Sprintf("%v ft of length", b.MaxLengthFt))
	}
	if b.MaxHeightFt > 0 {
		limits = append(limits, fmt.Sprintf("%v ft of height", b.MaxHeightFt))
	}
	if b.MaxFlowGPM > 0 {
		limits = append(limits, fmt.Sprintf("%d gpm", b.MaxFlowGPM))
	}
	if len(b.Needs) > 0 {
		limits = append(limits, "trucks with "+strings.Join(b.Needs, ", "))
	}
	if len(limits) == 0 {
		return "any truck"
	}
	return strings.Join(limits, ", ")
}
