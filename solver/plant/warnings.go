package plant

import (
	"fmt"
	"slices"
	"strings"

	"wetdown/calendar"
)

// Warnings lists what is allowed in a plant but is probably not meant, or needs
// somebody's eye. It wants a plant without faults.
func Warnings(p *Plant) []string {
	q := newInquiry(p, newKnown(p))
	var list []string
	warn := func(format string, args ...any) { list = append(list, fmt.Sprintf(format, args...)) }
	q.warnHouse(warn)
	q.warnRoute(warn)
	q.warnTrucks(warn)
	q.warnVisits(warn)
	return list
}

func (q *inquiry) warnHouse(warn func(string, ...any)) {
	var used []string
	for _, s := range q.p.Route {
		used = append(used, s.Bay)
	}
	for _, w := range q.p.Wishes {
		used = append(used, w.Bay)
	}
	for _, b := range q.p.Bays {
		if !slices.ContainsFunc(b.Kinds, func(k string) bool { return slices.Contains(used, k) }) {
			warn("bay %s is of no use: no stage and no wish needs a bay of the kind %s", b.ID, strings.Join(b.Kinds, " or "))
		}
	}
	if !slices.ContainsFunc(q.p.Notice, func(n Notice) bool { return n.ID == "frozen" }) {
		warn("the notice ladder has no rung named frozen: only visits for which travel is bought are frozen")
	}
}

// warnRoute tells of stages that no truck goes through, since a feature may be
// misspelt, or since the house has not what they need.
func (q *inquiry) warnRoute(warn func(string, ...any)) {
	var features []string
	for i := range q.facts {
		features = append(features, q.facts[i].features...)
	}
	slices.Sort(features)
	features = slices.Compact(features)
	for i := range q.p.Route {
		s := &q.p.Route[i]
		asked := slices.Clone(s.Needs)
		for _, e := range s.Extra {
			asked = append(asked, e.Feature)
		}
		for _, n := range asked {
			if near := Nearest(n, features); near != "" && !slices.Contains(features, n) {
				warn("stage %s asks for the feature %s, which no truck has: is %s meant?", s.ID, n, near)
			}
		}
		if q.applied[i] {
			continue
		}
		missing := &inquiry{p: q.p, known: q.known}
		missing.bayKind(s.Bay, s.ID, nil)
		missing.heads(s.Crews, s.ID, nil)
		for _, f := range missing.findings {
			warn("no truck goes through stage %s today, but one that did could not: %s", s.ID, f.what)
		}
	}
}

func (q *inquiry) warnTrucks(warn func(string, ...any)) {
	for i := range q.p.Trucks {
		t := &q.p.Trucks[i]
		c := &t.Contract
		if c.DamagesCap > 0 && c.DamagesPerDay == 0 {
			warn("truck %s has a cap on damages of %d dollars, but no damages per day", t.ID, c.DamagesCap)
		}
		if c.Deadline != calendar.None && c.Deadline < c.Due {
			warn("truck %s has its hard deadline on %v, before it is due on %v", t.ID, c.Deadline, c.Due)
		}
		at := slices.IndexFunc(q.p.Line.Stations, func(s Station) bool { return s.ID == t.Line.Station })
		for _, f := range t.Line.Feeders {
			if k, ok := q.known.at[aStation][f.Station]; ok && (!t.onLine() || k < at) {
				warn("truck %s has left the station %s, which waited for %s", t.ID, f.Station, f.Name)
			}
		}
	}
}

func (q *inquiry) warnVisits(warn func(string, ...any)) {
	now := q.p.AsOf.Date()
	for i := range q.p.Visits {
		v := &q.p.Visits[i]
		if !v.Planned() {
			continue
		}
		if most := q.p.Prices.DelegationWarnOver; v.Heads > most {
			warn("visit %s brings %d people, more than %d: ask who of them decides", v.ID, v.Heads, most)
		}
		in := func(list []Range, d calendar.Date) bool {
			return slices.ContainsFunc(list, func(r Range) bool { return r.Contains(d) })
		}
		if d := v.Booking.Day; d != calendar.None {
			if !in(v.Windows, d) {
				warn("visit %s is %s for %v, which lies in none of its windows: it must move", v.ID, v.Booking.State, d)
			}
			if in(v.Blackouts, d) {
				warn("visit %s is %s for %v, which is blacked out: it must move", v.ID, v.Booking.State, d)
			}
		}
		if !slices.ContainsFunc(v.Windows, func(r Range) bool { return r.Through >= now && r.From <= q.p.Horizon.Through }) {
			warn("visit %s has no window between as_of and the end of the horizon: it cannot be placed", v.ID)
		}
		f := &q.facts[q.known.at[aTruck][v.Truck]]
		for _, w := range v.Wishes {
			if j, ok := q.known.at[aWish][w]; ok && !f.has(q.p.Wishes[j].Needs) {
				warn("visit %s wants to %s, which needs %s: truck %s does not have that", v.ID, w, strings.Join(q.p.Wishes[j].Needs, ", "), v.Truck)
			}
		}
	}
}
