package api

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/forecast"
	"wetdown/solver/plant"
)

// KindReadiness is the kind of record of a Readiness; there is one, of the newest revision
// that was looked at.
const KindReadiness = "readiness"

const readinessID = "newest"

// chanceSeed is the seed of everything that is left to chance. It is in every answer.
const chanceSeed = 1

// A Readiness says how likely the promises of one revision of the plant are kept.
type Readiness struct {
	Revision int64 // of the plant that was simulated
	Table    int64 // of the history that it rests on: how often a table had been taken in
	At       time.Time
	Program  string
	Odds     *forecast.Odds // of every visit and delivery to come
	Unsafe   []UnsafeVisit  // what the coordinator was told, in the order of Odds

	// Newest is the revision of the plant when it was asked for. If Revision is less, the
	// chances are those of an older plant, and newer ones are on their way.
	Newest int64 `json:"-"`
}

// An UnsafeVisit is a tentative or confirmed visit whose chance to be ready lies below
// forecast.SafeShare. For each day that was promised it is told once.
type UnsafeVisit struct {
	Visit string
	Day   calendar.Date
	Since int64  // revision in which it was seen first
	Call  string // that tells of it; "" where the visit was unsafe when its chances were worked out first
}

// Readiness returns the chances that were worked out last, if need be those of an older
// revision. With fresh it waits for those of the newest, as long as ctx lasts; so it does
// when there are none at all. Without a plan in force there are none, which is a problem.
func (a *App) Readiness(ctx context.Context, who Actor, fresh bool) (*Readiness, error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	var r *Readiness
	current := false
	err := a.store.View(ctx, func(tx Tx) error {
		s, mark, err := a.plannedIn(tx)
		if err != nil {
			return err
		}
		e, err := readinessIn(tx)
		if err == nil && e.rec.Version > 0 {
			r, current = &e.val, e.val.covers(mark)
			r.Newest = s.Revision.Number
		}
		return err
	})
	if err != nil || r != nil && (!fresh || current) {
		return r, err
	}
	return a.Forecast(ctx)
}

func readinessIn(tx Tx) (entry[Readiness], error) {
	rec, err := tx.Get(KindReadiness, readinessID)
	if errors.Is(err, ErrNone) {
		return entry[Readiness]{rec: Record{Kind: KindReadiness, ID: readinessID}}, nil
	}
	e := entry[Readiness]{rec: rec}
	if err == nil {
		err = e.open()
	}
	return e, err
}

// Forecast works out the chances of the newest revision, unless that was done, and keeps
// them. One at a time does, on one processor. Whoever of several processes is first keeps
// what it found, and all find the same.
func (a *App) Forecast(ctx context.Context) (*Readiness, error) {
	leave, err := place(ctx, a.forecasting, "The chances are being worked out")
	if err != nil {
		return nil, err
	}
	defer leave()
	var s *State
	var mark Mark
	var kept entry[Readiness]
	var facts *plant.Plant
	var o forecast.Options
	err = a.store.View(ctx, func(tx Tx) (err error) {
		if s, mark, err = a.plannedIn(tx); err != nil {
			return err
		}
		if kept, err = readinessIn(tx); err == nil && !kept.val.covers(mark) {
			facts, o, err = a.simulation(tx, mark, s.Plant)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	if !kept.val.covers(mark) {
		var odds *forecast.Odds
		a.aside(func() { odds, err = forecast.Readiness(ctx, facts, o) })
		if err != nil {
			return nil, err
		}
		err = a.store.Update(ctx, func(tx Tx) (err error) {
			if kept, err = readinessIn(tx); err != nil || kept.val.covers(mark) {
				return err
			}
			made := Readiness{Revision: mark.Revision, Table: mark.Table, At: a.now(), Program: solver.Program, Odds: odds}
			if made.Unsafe, err = a.warned(tx, s, &kept, odds); err != nil {
				return err
			}
			kept.val = made
			return kept.keep(tx)
		})
		if err != nil {
			return nil, err
		}
		a.forecasts.send()
	}
	kept.val.Newest = max(mark.Revision, kept.val.Revision)
	return &kept.val, nil
}

// covers reports whether the chances are those of the mark, or newer ones.
func (r *Readiness) covers(m Mark) bool {
	return r.Revision > m.Revision || r.Revision == m.Revision && r.Table >= m.Table
}

// How the background goes easy on the machine.
const (
	idleShare  = 3  // times as long as it worked it rests: a quarter of one processor is the most that it takes
	afterFault = 12 // times longer than otherwise it waits when something went wrong
)

// KeepForecasting works out the chances of every new revision until ctx ends; of many that
// come while it works or rests, of the newest alone. It looks for what other processes
// changed every so often. failed is told what went wrong.
func (a *App) KeepForecasting(ctx context.Context, every time.Duration, failed func(error)) {
	for ctx.Err() == nil {
		changed, began, pause := a.Changed(), a.clock(), every
		if _, err := a.Forecast(ctx); err != nil && AsProblem(err).Kind == Broken && ctx.Err() == nil {
			failed(err)
			pause *= afterFault
		}
		sleep(ctx, idleShare*a.clock().Sub(began), nil)
		sleep(ctx, pause, changed)
	}
}

// sleep returns when so much time has passed, sooner when ctx ends or wake is closed.
func sleep(ctx context.Context, pause time.Duration, wake <-chan struct{}) {
	over := time.NewTimer(pause)
	defer over.Stop()
	select {
	case <-ctx.Done():
	case <-wake:
	case <-over.C:
	}
}

// plannedIn is the newest state, which must have a plan in force, with the history that it
// has.
func (a *App) plannedIn(tx Tx) (*State, Mark, error) {
	s, err := a.headIn(tx)
	if err != nil {
		return nil, Mark{}, err
	}
	if s.Plant.Plan == nil {
		return nil, Mark{}, noPlan()
	}
	mark, err := markIn(tx, s.Revision.Number)
	return s, mark, err
}

// simulation is the plant to be simulated, with every recorded slip as a fact, and how: by the
// laws of its own history where enough is alike, and from a seed that is always the same.
// with names trucks beside those of the plant.
func (a *App) simulation(tx Tx, mark Mark, p *plant.Plant, with ...plant.Truck) (*plant.Plant, forecast.Options, error) {
	past, err := a.pasts.at(tx, mark, p)
	if err != nil {
		return nil, forecast.Options{}, err
	}
	facts, says := p, ""
	if n := len(p.Slips); n > 0 {
		says = fmt.Sprintf("What was reported and no plan has answered yet counts as having happened: %s.", count(n, "slip"))
		if facts, err = p.Apply(p.Slips); err != nil {
			facts, says = p, fmt.Sprintf("What was reported and no plan has answered yet is left aside (%s), since it does not fit the plant any more: withdraw what is over.", count(n, "slip"))
		}
	}
	laws, err := forecast.Learned(past.told, facts, with...)
	if says != "" {
		laws.Says = append([]string{says}, laws.Says...)
	}
	return facts, forecast.Options{Seed: chanceSeed, Laws: laws}, err
}

// warned tells the coordinator of visits that are not safe any more: a call is added for
// each that was not told of for its day, with a word on the trail, and calls are idle whose
// visit is safe again, has another day, or is over. When chances are worked out for the
// first time nobody is told: nothing has changed.
func (a *App) warned(tx Tx, s *State, kept *entry[Readiness], odds *forecast.Odds) (list []UnsafeVisit, err error) {
	first := kept.rec.Version == 0
	old := kept.val.Unsafe
	for i := range odds.Visits {
		v := &odds.Visits[i]
		if !v.Unsafe {
			continue
		}
		u := UnsafeVisit{Visit: v.Visit, Day: v.Day, Since: s.Revision.Number}
		if k := slices.IndexFunc(old, func(o UnsafeVisit) bool { return o.Visit == v.Visit && o.Day == v.Day }); k >= 0 {
			u = old[k]
			lost, err := silenced(tx, u)
			if err != nil {
				return nil, err
			}
			if lost {
				if u.Call, err = a.callUnsafe(tx, s, kept.val.Odds, v, len(list)+1); err != nil {
					return nil, err
				}
			}
		} else if !first {
			if u.Call, err = a.callUnsafe(tx, s, kept.val.Odds, v, len(list)+1); err != nil {
				return nil, err
			}
		}
		list = append(list, u)
	}
	for _, o := range old {
		if o.Call == "" || slices.ContainsFunc(list, func(u UnsafeVisit) bool { return u.Call == o.Call }) {
			continue
		}
		e, err := fetch[Call](tx, KindCall, o.Call)
		if err != nil {
			return nil, err
		}
		if e.rec.State == CallOpen {
			e.rec.State = CallIdle
			if err := e.keep(tx); err != nil {
				return nil, err
			}
		}
	}
	return list, nil
}

// silenced reports whether the call about a visit that is still unsafe was made needless, as by
// taking back the revision that it came with, and none about the visit is open.
func silenced(tx Tx, u UnsafeVisit) (bool, error) {
	if u.Call == "" {
		return false, nil
	}
	c, err := fetch[Call](tx, KindCall, u.Call)
	if err != nil || c.rec.State != CallIdle {
		return false, err
	}
	open, err := query[Call](tx, Query{Kind: KindCall, State: CallOpen, Ref: c.rec.Ref})
	return !slices.ContainsFunc(open, func(e entry[Call]) bool { return e.val.Visit == u.Visit }), err
}

// callUnsafe adds the call about a visit that is not safe any more.
func (a *App) callUnsafe(tx Tx, s *State, before *forecast.Odds, v *forecast.VisitOdds, n int) (id string, err error) {
	visit := s.Plant.FindVisit(v.Visit)
	t := s.Plant.FindTruck(v.Truck)
	if visit == nil || t == nil {
		return "", fmt.Errorf("chances of visit %s, which revision %d does not have", v.Visit, s.Revision.Number)
	}
	customer := t.Customer
	if c := s.Plant.FindCustomer(t.Customer); c != nil {
		customer = cmp.Or(c.Name, c.ID)
	}
	more, was := "", ""
	if o, err := before.For(v.Visit); err == nil && o.Day == v.Day && o.Ready.Share > v.Ready.Share {
		more, was = " any more", fmt.Sprintf(", where it was %s", percent(o.Ready.Share))
	}
	about := fmt.Sprintf("The %s visit of %s on %s (%s) is not safe%s: in %s of the simulated runs the truck is ready for it%s.", spoken(visit.Kind), v.Truck, v.Day, v.State, more, percent(v.Ready.Share), was)
	if v.SafeFrom != calendar.None {
		about += fmt.Sprintf(" From %s on it would be in %s.", v.SafeFrom, percent(forecast.SafeShare))
	}
	because := fmt.Sprintf("A visit counts as safe from %s on. These are the chances of revision %d.", percent(forecast.SafeShare), s.Revision.Number)
	e := entry[Call]{
		Record{Kind: KindCall, ID: newID(), State: CallOpen, Ref: v.Truck},
		Call{Revision: s.Revision.Number, By: s.Plant.AsOf.Date(), Truck: v.Truck, Customer: customer, Visit: v.Visit, Heads: visit.Heads, About: about, Because: because, Place: n},
	}
	if err := e.keep(tx); err != nil {
		return "", err
	}
	return e.rec.ID, a.trace(tx, Event{Who: Service.Name, Act: ActBook, Subject: "visits/" + v.Visit, Outcome: OutcomeDone, Detail: about})
}

// percent writes a share of runs.
func percent(share float64) string {
	switch n := forecast.InHundred(share); {
	case n >= 100:
		return "more than 99%"
	case n <= 0:
		return "less than 1%"
	default:
		return fmt.Sprintf("%d%%", n)
	}
}
