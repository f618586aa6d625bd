package api

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"

	"wetdown/api/sheet"
	"wetdown/calendar"
	"wetdown/solver/history"
	"wetdown/solver/plant"
)

// historyID is the record of the history that was taken in as a table. What the plant
// itself says is in a record for each revision that says something new.
const historyID = "all"

// toldID is how the record of a revision is called.
const toldID = "revision %d"

// dating is what the pieces of the plant are from which days follow.
func dating(changes []plant.PieceChange) bool {
	return slices.ContainsFunc(changes, func(c plant.PieceChange) bool {
		head, _, _ := strings.Cut(c.Key, "/")
		return slices.Contains([]string{"as_of", "calendars", "departments", "horizon", "line", "parts", "plan", "route", "trucks", "visits", "zone"}, head)
	})
}

// milestone is a day of a truck that is told ahead: of its line-off, a visit, its delivery.
type milestone struct{ truck, event string }

// days are the days that a plant says of its trucks.
type days struct {
	order     []milestone
	projected map[milestone]calendar.Date
	actual    map[milestone]calendar.Date
}

// daysOf lists what a plant says: line-off by the line, visits and deliveries by the plan in
// force.
func daysOf(p *plant.Plant) (*days, error) {
	d := &days{projected: map[milestone]calendar.Date{}, actual: map[milestone]calendar.Date{}}
	j, err := p.Project()
	if err != nil {
		return nil, err
	}
	said := func(truck, event string, projected, actual calendar.Date) {
		m := milestone{truck, event}
		if projected == calendar.None && actual == calendar.None {
			return
		}
		if _, again := d.projected[m]; !again {
			d.order = append(d.order, m)
		}
		d.projected[m], d.actual[m] = projected, actual
	}
	rows := map[milestone]calendar.Date{} // of the plan, by truck and stage: last day
	if p.Plan != nil {
		for _, r := range p.Plan.Stages {
			rows[milestone{r.Truck, r.Stage}] = (r.End - 1).Date()
		}
	}
	for i := range p.Trucks {
		t := &p.Trucks[i]
		projected := j.LineOff(t.ID)
		if t.Line.Off != calendar.None {
			projected = calendar.None
		}
		said(t.ID, sheet.EventLineOff, projected, t.Line.Off)
		done := map[string]calendar.Date{}
		for _, x := range t.Done {
			done[x.Stage] = (x.Ended - 1).Date()
		}
		for k := range p.Route {
			s := &p.Route[k]
			event, projected, actual := s.Visit, calendar.None, calendar.None
			if at, ok := done[s.ID]; ok {
				actual = at
			}
			switch {
			case s.Delivers:
				event = sheet.EventDelivery
				if at, ok := rows[milestone{t.ID, s.ID}]; ok {
					projected = at
				}
			case s.Visit != "":
				if v := p.VisitOf(t, s.Visit); v != nil && p.Plan != nil {
					projected = p.Plan.Day(v.ID)
				}
				if i := slices.IndexFunc(p.Visits, func(v plant.Visit) bool {
					return v.Truck == t.ID && v.Kind == s.Visit && v.Booking.State == plant.Held
				}); i >= 0 && actual != calendar.None {
					actual = p.Visits[i].Booking.Day // the first day of it
				}
			default:
				continue
			}
			if actual != calendar.None {
				projected = calendar.None
			}
			said(t.ID, event, projected, actual)
		}
	}
	return d, nil
}

// learned lists what a change makes the plant say anew: days that are projected otherwise
// than before, and days that have come.
func learned(before, after *plant.Plant) (list []sheet.Past, err error) {
	now, err := daysOf(after)
	if err != nil {
		return nil, err
	}
	was := &days{}
	if before != nil {
		if was, err = daysOf(before); err != nil {
			return nil, err
		}
	}
	for _, m := range now.order {
		t := after.FindTruck(m.truck)
		past := sheet.Past{
			Truck: m.truck, Event: m.event, Content: t.Content, Said: after.AsOf.Date(), Projected: now.projected[m], Actual: calendar.None,
			Kind: t.Kind, Customer: t.Customer, Requested: calendar.None, Contract: t.Contract.Due,
		}
		if n := len(t.Line.Overrides); n > 0 && m.event == sheet.EventLineOff { // who said so last knows why
			o := t.Line.Overrides[n-1]
			past.Cause = o.Cause
			if slices.Contains(history.Owners, o.By) {
				past.Owner = o.By
			}
		}
		old, told := was.projected[m]
		switch actual := now.actual[m]; {
		case actual != calendar.None && told && was.actual[m] == calendar.None: // it has come
			past.Projected, past.Actual = old, actual
			if old == calendar.None {
				past.Projected = actual
			}
		case actual != calendar.None, now.projected[m] == calendar.None, told && old == now.projected[m]:
			continue
		}
		list = append(list, past)
	}
	return list, nil
}

// recorded keeps what a revision says anew, in its transaction.
func recorded(tx Tx, r Revision, list []sheet.Past) error {
	if len(list) == 0 {
		return nil
	}
	e := entry[[]sheet.Past]{Record{Kind: KindHistory, ID: fmt.Sprintf(toldID, r.Number), State: "told"}, list}
	return e.keep(tx)
}

// pastIn is the history of days that was taken in as a table.
func pastIn(tx Tx) (entry[[]sheet.Past], error) {
	rec, err := tx.Get(KindHistory, historyID)
	if errors.Is(err, ErrNone) {
		return entry[[]sheet.Past]{rec: Record{Kind: KindHistory, ID: historyID}}, nil
	}
	e := entry[[]sheet.Past]{rec: rec}
	if err == nil {
		err = e.open()
	}
	return e, err
}

// A Mark names a history of days as it stood: the table that was taken in, and what the
// plant had said. With the mark, the same history can be read again.
type Mark struct {
	Table    int64 // how often a table had been taken in; 0: never
	Revision int64 // what the plant said up to this one counts
}

// markIn is the mark of a revision with the table as it is now.
func markIn(tx Tx, revision int64) (Mark, error) {
	rec, err := tx.Get(KindHistory, historyID)
	if errors.Is(err, ErrNone) {
		err = nil
	}
	return Mark{Table: rec.Version, Revision: revision}, err
}

// tableID is the record of a table that was answered from, when a newer one may have taken
// its place.
func tableID(table int64) string { return fmt.Sprintf("table %d", table) }

// keepTable keeps the table that was taken in under its number, so that who has a mark
// finds it.
func keepTable(tx Tx) error {
	taken, err := pastIn(tx)
	if err != nil || taken.rec.Version == 0 {
		return err
	}
	if _, err = tx.Get(KindHistory, tableID(taken.rec.Version)); !errors.Is(err, ErrNone) {
		return err
	}
	_, err = tx.Put(Record{Kind: KindHistory, ID: tableID(taken.rec.Version), State: "table", Ref: taken.rec.Ref, Body: taken.rec.Body})
	return err
}

// takenWith keeps the revision with which a table is taken in: what the plant had said up to
// it is older than the table.
func takenWith(e *entry[[]sheet.Past], r Revision) { e.rec.Ref = fmt.Sprintf(toldID, r.Number) }

// revisionIn reads a revision out of how a record of it is called; 0 for none.
func revisionIn(id string) (n int64, err error) {
	if id != "" {
		_, err = fmt.Sscanf(id, toldID, &n)
	}
	return n, err
}

// pastAt is the history of days by its mark: the table that was taken in, and what the plant
// has said. Where two things were said of one truck and event on one day, what was said or
// taken in later counts. A day that has come is told with every projection of it.
func pastAt(tx Tx, mark Mark) ([]sheet.Past, error) {
	taken, err := pastIn(tx)
	if err == nil && mark.Table > 0 && taken.rec.Version != mark.Table {
		taken, err = fetch[[]sheet.Past](tx, KindHistory, tableID(mark.Table))
	}
	if err != nil {
		return nil, err
	}
	if mark.Table == 0 {
		taken.val = nil
	}
	told, err := query[[]sheet.Past](tx, Query{Kind: KindHistory, State: "told"})
	if err != nil {
		return nil, err
	}
	type telling struct {
		milestone
		said calendar.Date
	}
	table, err := revisionIn(taken.rec.Ref)
	if err != nil {
		return nil, fmt.Errorf("history %s: %w", taken.rec.ID, err)
	}
	list := slices.Clone(taken.val)
	at := map[telling]int{}
	for i, h := range list {
		at[telling{milestone{h.Truck, h.Event}, h.Said}] = i
	}
	type coming struct {
		day   calendar.Date
		newer bool // than the table
	}
	came := map[milestone]coming{}
	for _, e := range told {
		said, err := revisionIn(e.rec.ID)
		if err != nil {
			return nil, fmt.Errorf("history %s: %w", e.rec.ID, err)
		}
		if said > mark.Revision {
			continue
		}
		for _, h := range e.val {
			m := milestone{h.Truck, h.Event}
			if h.Actual != calendar.None {
				came[m] = coming{h.Actual, said > table}
				continue
			}
			delete(came, m) // it was taken back
			k := telling{m, h.Said}
			switch i, again := at[k]; {
			case again && i < len(taken.val) && said <= table: // the table knows better
			case again:
				list[i] = h
			default:
				at[k] = len(list)
				list = append(list, h)
			}
		}
	}
	for i := range list {
		h := &list[i]
		if c, ok := came[milestone{h.Truck, h.Event}]; ok && (h.Actual == calendar.None || c.newer) && h.Said <= c.day {
			h.Actual = c.day
		}
	}
	return list, nil
}

// pasts remembers the histories that were read last. What a mark names never changes.
type pasts struct {
	mu   sync.Mutex
	last []*markedPast // the newest last
}

// mostPasts is how many histories are remembered: the newest, and one that a quote is made
// again from.
const mostPasts = 2

// A markedPast is a history of days by its mark. It must not be changed.
type markedPast struct {
	mark Mark
	list []sheet.Past
	told *history.History
}

// at is the history of days by its mark, with questions answered by the route of p, the plant
// of that revision. It is asked in transactions that only read, since what others write in
// may yet be undone.
func (c *pasts) at(tx Tx, mark Mark, p *plant.Plant) (*markedPast, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, k := range c.last {
		if k.mark == mark {
			return k, nil
		}
	}
	list, err := pastAt(tx, mark)
	if err != nil {
		return nil, err
	}
	k := &markedPast{mark, list, historyOf(p, list)}
	c.last = append(c.last[max(0, len(c.last)+1-mostPasts):], k)
	return k, nil
}

// past is the history of days as it is now.
func (a *App) past(tx Tx, s *State) (*markedPast, error) {
	mark, err := markIn(tx, s.Revision.Number)
	if err != nil {
		return nil, err
	}
	return a.pasts.at(tx, mark, s.Plant)
}

// historyOf has questions answered from days that were told of a plant. Working days are
// Monday to Friday: a history is older than the calendars of the plant. Customers that the
// plant knows are called by their names.
func historyOf(p *plant.Plant, past []sheet.Past) *history.History {
	events := make([]history.Event, len(past))
	for i := range past {
		events[i] = past[i].Told()
		if c := p.FindCustomer(past[i].Customer); c != nil {
			events[i].Customer = cmp.Or(c.Name, c.ID)
		}
	}
	return history.New(events, history.Options{Route: p.Route})
}
