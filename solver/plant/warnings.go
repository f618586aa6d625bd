package plant

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"wetdown/calendar"
)

// Warnings lists what is allowed in a plant but is probably not meant, or needs
// somebody's eye, in the order of the file: name and data are those that the plant
// was read from. Without data nobody knows the lines. It wants a plant without
// faults.
func Warnings(p *Plant, name string, data []byte) []Fault {
	return located(warnings(p), name, data)
}

// Warnings is that of a plant, for an order to it.
func (o *Order) Warnings(p *Plant, name string, data []byte) []Fault {
	var ours []finding
	for _, v := range warnings(o.in(p)) {
		if at, ok := inOrder(v.at, p); ok {
			v.at = at
			ours = append(ours, v)
		}
	}
	return located(ours, name, data)
}

func warnings(p *Plant) []finding {
	q := newInquiry(p, newKnown(p))
	q.warnHouse()
	q.warnRoute()
	q.warnTrucks()
	q.warnVisits()
	q.warnLinedUp()
	return q.findings
}

// located gives findings their lines. What is nowhere in the file has none.
func located(found []finding, name string, data []byte) (list []Fault) {
	var root *yaml.Node
	if len(found) > 0 && len(data) > 0 {
		root, _, _, _ = document(data)
	}
	for _, v := range found {
		f := v.fault(v.at)
		if root != nil && locate(root, v.at) != root {
			f = v.in(root)
		}
		f.File = name
		list = append(list, f)
	}
	slices.SortStableFunc(list, byPlace)
	return list
}

func (q *inquiry) warnHouse() {
	var used []string
	for _, s := range q.p.Route {
		used = append(used, s.Bay)
	}
	for _, w := range q.p.Wishes {
		used = append(used, w.Bay)
	}
	for i, b := range q.p.Bays {
		if !slices.ContainsFunc(b.Kinds, func(k string) bool { return slices.Contains(used, k) }) {
			q.find(wrong{
				fmt.Sprintf("bay %s is of no use: no stage and no wish needs a bay of the kind %s", b.ID, strings.Join(b.Kinds, " or ")),
				"", "give it a kind that one of them needs, or take it away",
			}, key("bays"), nth(i, b.ID), key("kinds"))
		}
	}
	features := q.features()
	var told []string
	for i, b := range q.p.Bays {
		for _, n := range b.Needs {
			near := Nearest(n, features)
			if near == "" || slices.Contains(features, n) || slices.Contains(told, n) {
				continue
			}
			told = append(told, n)
			q.find(wrong{
				fmt.Sprintf("bay %s is only for trucks with %s, which no truck has, but some have %s", b.ID, n, near),
				"", "write the same in both if the same is meant; until a truck has it the bay, and any other that needs it, stays empty",
			}, key("bays"), nth(i, b.ID), key("needs"))
		}
	}
	if !slices.ContainsFunc(q.p.Notice, func(n Notice) bool { return n.ID == "frozen" }) {
		q.find(wrong{
			"the notice ladder has no rung named frozen: only visits for which travel is bought are frozen",
			"", "add a rung with the id frozen if confirmed days are to stand from some day on",
		}, key("notice"))
	}
	var ids []string
	for _, c := range cautions {
		ids = append(ids, c.ID)
	}
	for i, w := range q.p.Wishes {
		for _, id := range strings.Fields(w.Caution) {
			if !slices.Contains(ids, id) {
				q.find(wrong{
					fmt.Sprintf("wish %s names the caution %s, which there is not: it is left out", w.ID, id),
					"", fmt.Sprintf("write ids from %s to %s, with blanks between", ids[0], ids[len(ids)-1]),
				}, key("wishes"), nth(i, w.ID), key("caution"))
			}
		}
	}
}

// features lists what trucks of the file have, each once.
func (q *inquiry) features() (list []string) {
	for i := range q.facts {
		list = append(list, q.facts[i].features...)
	}
	slices.Sort(list)
	return slices.Compact(list)
}

// warnRoute tells of stages that no truck goes through, since a feature may be
// misspelt, or since the house has not what they need.
func (q *inquiry) warnRoute() {
	features := q.features()
	written := !reflect.DeepEqual(q.p.Route, DefaultRoute())
	for i := range q.p.Route {
		s := &q.p.Route[i]
		at := place{key("route"), nth(i, s.ID)}
		asked := slices.Clone(s.Needs)
		for _, e := range s.Extra {
			asked = append(asked, e.Feature)
		}
		for _, n := range asked {
			near := Nearest(n, features)
			if near == "" || slices.Contains(features, n) {
				continue
			}
			where := at
			if !written {
				k := slices.IndexFunc(q.facts, func(f facts) bool { return f.has([]string{near}) })
				where = place{key("trucks"), nth(k, q.p.Trucks[k].ID)}
			}
			q.find(wrong{
				fmt.Sprintf("stage %s asks for the feature %s, which no truck has, but some have %s", s.ID, n, near),
				"", "write the same in both if the same is meant",
			}, where...)
		}
		if q.applied[i] || !written {
			continue
		}
		missing := &inquiry{p: q.p, known: q.known}
		missing.bayKind(s.Bay, s.ID, at)
		missing.heads(s.Crews, s.ID, at)
		for _, f := range missing.findings {
			f.what = fmt.Sprintf("no truck goes through stage %s today, but one that did could not: %s", s.ID, f.what)
			q.find(f.wrong, f.at...)
		}
	}
}

func (q *inquiry) warnTrucks() {
	for i := range q.p.Trucks {
		t := &q.p.Trucks[i]
		at := place{key("trucks"), nth(i, t.ID)}
		c := &t.Contract
		if c.DamagesCap > 0 && c.DamagesPerDay == 0 {
			q.find(wrong{
				fmt.Sprintf("truck %s has a cap on damages of %d dollars, but no damages per day", t.ID, c.DamagesCap),
				"", "write damages_dollars_per_day, or take the cap away",
			}, at.with(key("contract"), key("damages_cap_dollars"))...)
		}
		if c.Deadline != calendar.None && c.Deadline < c.Due {
			q.find(wrong{
				fmt.Sprintf("truck %s has its hard deadline on %v, before it is due on %v", t.ID, c.Deadline, c.Due),
				"", "look at both days, and correct one if it is not meant",
			}, at.with(key("contract"), key("deadline"))...)
		}
		q.warnSmallPump(i, at)
		stands := slices.IndexFunc(q.p.Line.Stations, func(s Station) bool { return s.ID == t.Line.Station })
		for j, f := range t.Line.Feeders {
			if k, ok := q.known.at[aStation][f.Station]; ok && (!t.onLine() || k < stands) {
				q.find(wrong{
					fmt.Sprintf("truck %s has left the station %s, which waited for %s", t.ID, f.Station, f.Name),
					"", "take the feeder away, or name the station that waits for it now",
				}, at.with(key("line"), key("feeders"), nth(j, f.Name))...)
			}
		}
	}
}

// warnSmallPump tells of a pump below SmallPumpGPM that is to be certified in the
// time of larger ones, since no source says how long it takes: neither a word in
// the file on this truck nor a stage for such trucks alone.
func (q *inquiry) warnSmallPump(i int, at place) {
	t := &q.p.Trucks[i]
	if t.FlowGPM == 0 || t.FlowGPM >= SmallPumpGPM {
		return
	}
	for j := range q.p.Route {
		s := &q.p.Route[j]
		if q.facts[i].stage[j] != isOpen || !s.Certifies || s.Length != LengthHours || !slices.Equal(s.Needs, []string{"pump"}) ||
			slices.ContainsFunc(t.Overruns, func(o Overrun) bool { return o.Stage == s.ID }) {
			continue
		}
		q.find(wrong{
			fmt.Sprintf("the pump of truck %s is rated %d gpm, and %s is planned with hours %s, as for pumps of %d gpm and over: how long it takes for a smaller one must be set by the plant",
				t.ID, t.FlowGPM, s.ID, formatHours(q.p.StageMinutes(t, s)), SmallPumpGPM),
			"", "take the time from the builder's procedure, and write the difference under overruns of the truck (negative for less); or plan such trucks with a stage of their own, by an option that they have",
		}, at.key("flow_gpm")...)
	}
}

// warnLinedUp tells of trucks that the plan in force has lined up by now, of which nobody
// says that they stand there: a new plan would have them take their place from now on.
func (q *inquiry) warnLinedUp() {
	if q.p.Plan == nil {
		return
	}
	for i, r := range q.p.Plan.Stages {
		k, known := q.known.at[aTruck][r.Truck]
		j, ok := q.known.at[aStage][r.Stage]
		if !known || !ok || r.Hold >= q.p.AsOf || r.Start < q.p.AsOf || q.facts[k].stage[j] != isOpen || q.p.Trucks[k].Standing.Stage == r.Stage {
			continue
		}
		q.find(wrong{
			fmt.Sprintf("by the plan in force truck %s stands in %s since %v, lined up for %s, and the file does not say that it does", r.Truck, r.Bay, r.Hold, r.Stage),
			"", fmt.Sprintf("write standing: {stage: %s, bay: %s} for truck %s if it is there; otherwise it is lined up anew", r.Stage, r.Bay, r.Truck),
		}, key("plan"), key("stages"), nth(i, r.Truck))
	}
}

func (q *inquiry) warnVisits() {
	now := q.p.AsOf.Date()
	for i := range q.p.Visits {
		v := &q.p.Visits[i]
		if !v.Planned() {
			continue
		}
		at := place{key("visits"), nth(i, v.ID)}
		if most := q.p.Prices.DelegationWarnOver; v.Heads > most {
			q.find(wrong{
				fmt.Sprintf("visit %s brings %d people, more than %d: a lot to show round, feed and keep safe", v.ID, v.Heads, most),
				"", "ask who of them decides, and whether all must come",
			}, at.key("heads")...)
		}
		in := func(list []Range, d calendar.Date) bool {
			return slices.ContainsFunc(list, func(r Range) bool { return r.Contains(d) })
		}
		if d := v.Booking.Day; d != calendar.None {
			if !in(v.Windows, d) {
				q.find(wrong{
					fmt.Sprintf("visit %s is %s for %v, which lies in none of its windows: it must move", v.ID, v.Booking.State, d),
					"", "correct the windows if the day was agreed, else agree on another",
				}, at.with(key("booking"), key("day"))...)
			}
			if in(v.Blackouts, d) {
				q.find(wrong{
					fmt.Sprintf("visit %s is %s for %v, which is blacked out: it must move", v.ID, v.Booking.State, d),
					"", "correct the blackout if the day was agreed, else agree on another",
				}, at.with(key("booking"), key("day"))...)
			}
		}
		if !slices.ContainsFunc(v.Windows, func(r Range) bool { return r.Through >= now && r.From <= q.p.Horizon.Through }) {
			q.find(wrong{
				fmt.Sprintf("visit %s has no window between as_of and the end of the horizon: it cannot be placed", v.ID),
				"", "ask the customer for days, or write a later horizon.through",
			}, at.key("windows")...)
		}
		f := &q.facts[q.known.at[aTruck][v.Truck]]
		for j, w := range v.Wishes {
			if k, ok := q.known.at[aWish][w]; ok && !f.has(q.p.Wishes[k].Needs) {
				q.find(wrong{
					fmt.Sprintf("visit %s wants to %s, which needs %s: truck %s does not have that", v.ID, w, strings.Join(q.p.Wishes[k].Needs, ", "), v.Truck),
					"", "tell the customer and take the wish away, or correct the truck",
				}, at.with(key("wishes"), nth(j, ""))...)
			}
		}
	}
}
