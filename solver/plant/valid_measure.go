package plant

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"wetdown/calendar"
)

// measures looks at each line of the price list: that it says what it must and no
// more, and that its shifts are shifts.
func (q *inquiry) measures() {
	for i := range q.p.Measures {
		m := &q.p.Measures[i]
		at := place{key("measures"), nth(i, m.ID)}
		uses, ok := measureUses[m.Kind]
		if !ok {
			continue
		}
		for _, g := range []struct {
			key string
			yes bool
		}{
			{"department", m.Department != ""}, {"crew", m.Crew != ""}, {"bay_kind", m.BayKind != ""}, {"customer", m.Customer != ""},
			{"approver", m.Approver != ""}, {"work_days", m.WorkDays != 0}, {"heads", m.Heads != standardMeasureHeads},
			{"days", m.Days != standardMeasureDays}, {"lead_days", m.LeadDays != standardLeadDays}, {"weeks", m.Weeks != standardWeeks},
			{"shifts", len(m.Shifts) > 0}, {"dollars", m.Dollars != 0}, {"dollars_per_day", m.PerDay != 0}, {"dollars_per_head", m.PerHead != 0},
		} {
			switch used := slices.Contains(uses, g.key); {
			case !g.yes && slices.Contains(measureNeeds[m.Kind], g.key):
				q.find(wrong{fmt.Sprintf("a measure of the kind %s needs %s", m.Kind, g.key), strings.Join(uses, ", "), "write " + g.key}, at.key(g.key)...)
			case g.yes && !used:
				q.find(wrong{fmt.Sprintf("a measure of the kind %s has no use for %s", m.Kind, g.key), strings.Join(uses, ", "), "take " + g.key + " away, or correct the kind"}, at.key(g.key)...)
			}
		}
		if len(m.Shifts) > 0 {
			for _, r := range (calendar.Rules{Overtime: []calendar.Overtime{{Day: calendar.NewDate(2000, 1, 1), Shifts: m.Shifts}}}).Check() {
				what, next, _ := strings.Cut(r.Text, "; ")
				q.find(wrong{"a shift " + what, "shifts that begin on the Saturday, one after the other", next}, at.with(key("shifts"), nth(max(r.Shift, 0), ""))...)
			}
		}
		if m.Kind == HiredBay && m.BayKind != "" && !slices.ContainsFunc(q.p.Route, func(s Stage) bool { return s.Bay == m.BayKind }) &&
			!slices.ContainsFunc(q.p.Wishes, func(w Wish) bool { return w.Bay == m.BayKind }) && !reflect.DeepEqual(q.p.Measures, DefaultMeasures()) {
			q.find(wrong{fmt.Sprintf("no stage and no wish needs a bay of the kind %s", m.BayKind), "a kind of bay that the route or a wish names", "correct the kind, or take the measure away"}, at.key("bay_kind")...)
		}
	}
}
