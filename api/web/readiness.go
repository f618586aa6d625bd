package web

import (
	"cmp"
	"net/http"
	"slices"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/forecast"
	"wetdown/solver/plant"
)

type readinessData struct {
	Query  string
	Show   string // "", "unsafe", "requested"
	List   []readyLine
	Leaf   leaf
	Of     int // visits to come
	Unsafe int // promised, and not safe
	Sample sample
}

// A readyLine is a visit to come, and how likely its truck is ready for it.
type readyLine struct {
	Visit    *plant.Visit
	Customer string
	Frozen   bool
	Day      calendar.Date       // by the plan, else as booked
	Chance   *forecast.VisitOdds // nil: there is none
	Next     bool                // days on offer for its truck are for this visit
	Call     string              // that tells of it, "" without
	Reserved bool                // its truck is not ordered: it holds its place
}

// Unsafe reports whether it was promised and is not safe.
func (l *readyLine) Unsafe() bool { return l.Chance != nil && l.Chance.Unsafe }

// readyLines are the visits to come: those that are promised and not safe first, then by
// their days.
func (v *view) readyLines(o *odds) (list []readyLine) {
	p := v.State.Plant
	for i := range p.Visits {
		x := &p.Visits[i]
		t := p.FindTruck(x.Truck)
		if !x.Planned() || t == nil {
			continue
		}
		l := readyLine{Visit: x, Customer: customerOf(p, t), Frozen: p.Frozen(x), Day: x.Booking.Day, Chance: o.Of(x.ID), Next: isNext(p, t, x), Call: o.calls[x.ID], Reserved: t.Reserved.For != ""}
		if p.Plan != nil && p.Plan.Day(x.ID) != calendar.None {
			l.Day = p.Plan.Day(x.ID)
		}
		list = append(list, l)
	}
	last := func(d calendar.Date) calendar.Date {
		if d == calendar.None {
			return p.Horizon.Through + 1
		}
		return d
	}
	slices.SortStableFunc(list, func(x, y readyLine) int {
		if x.Unsafe() != y.Unsafe() {
			if x.Unsafe() {
				return -1
			}
			return 1
		}
		return cmp.Or(cmp.Compare(last(x.Day), last(y.Day)), cmp.Compare(x.Visit.ID, y.Visit.ID))
	})
	return list
}

// readiness lists the visits to come with their chances.
func (w *Web) readiness(v *view) error {
	o := v.odds()
	d := readinessData{Query: strings.TrimSpace(v.r.FormValue("q")), Show: v.r.FormValue("show"), Sample: o.Sample}
	q := strings.ToLower(d.Query)
	for _, l := range v.readyLines(o) {
		d.Of++
		if l.Unsafe() {
			d.Unsafe++
		}
		switch {
		case d.Show == "unsafe" && !l.Unsafe(), d.Show == "requested" && l.Visit.Booking.State != plant.Requested:
		case !strings.Contains(strings.ToLower(l.Visit.ID+" "+l.Customer), q):
		default:
			d.List = append(d.List, l)
		}
	}
	d.List, d.Leaf = leafOf(v, d.List)
	v.Title, v.Place, v.Data = "Visits to come", "visits", d
	v.show(http.StatusOK, "readiness")
	return nil
}
