package solver

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/plant"
)

// A Desk holds a plant and its plan in force, and answers the next slip, offer or
// why from what it has worked out already. Its answers are those of Replan, Offers
// and Why for Desk.Plant: the same values, bounds and days. Of several floor
// positions, trades or equally small sets of reasons it may name others.
//
// What is kept, and what drops it:
//
//   - The compiled question (which starts every stage has, and what they mean on the
//     calendar). A slip, a booking or an undo compiles again only what it touches: the
//     stages of a truck whose record, visits or days on the line have changed, the
//     stages that need a kind of bay, or a crew, of which something has changed, and
//     the order of work of those trucks. Prices of starts are written anew each time. So
//     it is when the desk follows others to another plant.
//   - The session of offers and whys, one for all trucks. A new plan and a booking keep
//     it as long as the same plans are right as before; then only the promises are
//     exchanged in it. A slip drops it, unless it changes no start, bay or crew.
//   - The plan in force, from which every search starts: see schedule.Options.Prefer.
//   - What the questions about ways out have worked out: starts of stages and orders of
//     work, by all that they follow from (see ledger). A change in the plant's moment,
//     days, parts, order of work or customers, or in the calendars of plant or customers,
//     drops it.
//   - What was known before a change, for Undo: it comes back with its session.
//
// A new planning proves every tier anew. A call that ctx ends changes nothing but
// what it says it has found.
//
// A Desk serves one goroutine at a time: calls wait for one another. It copies what
// it changes; a plant given to Open or Follow must not be changed while the desk is open.
type Desk struct {
	mu     sync.Mutex
	o      Options
	now    *sitting     // nil when closed
	given  *plant.Plant // what Open or Follow was given, until a change
	past   []change
	counts *DeskCounts
	ledger *ledger // of the questions about ways out; nil before the first
}

// A change is what Undo takes back.
type change struct {
	before *sitting
	what   string       // for people
	after  *plant.Plant // of a slip: it made a fact, with the plan before it in force
}

// maxUndo is how many changes can be taken back.
const maxUndo = 50

// DeskCounts say how much a desk has worked out and how much it has taken over. They
// repeat exactly.
type DeskCounts struct {
	Questions     int // plants compiled
	QuestionsKept int // calls that found theirs compiled
	Stages        int // stages and wishes of the plants compiled
	StagesKept    int // of these, stages whose starts were taken over
	RoutesKept    int // trucks whose order of work was taken over
	Probers       int // sessions for offers and whys begun
	ProbersKept   int // calls that found theirs warm
}

// ErrClosed is returned by every call to a desk that is closed.
var ErrClosed = errors.New("the desk is closed: open another one")

// NoPlan is the error of Open for a plant that has no plan and for which none was
// found.
type NoPlan struct{ Result *Result }

func (e *NoPlan) Error() string {
	text := fmt.Sprintf("there is no plan to work from (%s)", e.Result.Status)
	if len(e.Result.Reasons) > 0 {
		text += ": " + strings.Join(e.Result.Reasons, " ")
	} else if e.Result.Status == plant.Unknown {
		text += ": give more time"
	}
	return text
}

// Open opens a desk. A plant without a plan in force is planned first. Slips that the
// plant records have not happened until Slip is told of them. The options hold for
// all calls; they must have no conditions.
func Open(ctx context.Context, p *plant.Plant, o Options) (*Desk, error) {
	if len(o.Conditions) > 0 {
		return nil, errors.New("a desk takes no conditions: give them to Plan or Replan with the plant of the desk")
	}
	s := newSitting(p)
	d := &Desk{o: o, counts: s.work}
	if err := d.begin(ctx, s); err != nil {
		return nil, err
	}
	return d, nil
}

// Follow has the desk go on with another plant, such as what others have made of its own
// meanwhile; with its own plant, it stays as it is. Its answers are then those of a desk
// opened for that plant, and what is the same in both is kept. A plant without a plan in
// force is planned first. Changes before it can no longer be undone. After an error the
// desk is as it was.
func (d *Desk) Follow(ctx context.Context, p *plant.Plant) error {
	s, err := d.sitting()
	if err != nil {
		return err
	}
	defer d.mu.Unlock()
	if p == s.p || p == d.given {
		d.past = nil
		return nil
	}
	return d.begin(ctx, s.then(p))
}

// begin puts a sitting in force that no change of this desk has led to.
func (d *Desk) begin(ctx context.Context, s *sitting) error {
	p := s.p
	if p.Plan == nil {
		r, next, err := d.replan(ctx, s)
		if err != nil {
			return err
		}
		if next == nil {
			return &NoPlan{r}
		}
		s = next
	} else if _, _, err := s.question(); err != nil {
		return err
	}
	d.now, d.given, d.past = s, p, nil
	return nil
}

// Close lets everything go. It may be called more than once.
func (d *Desk) Close() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.now, d.given, d.past, d.ledger = nil, nil, nil, nil
	return nil
}

// sitting locks the desk; the caller unlocks it unless there is an error.
func (d *Desk) sitting() (*sitting, error) {
	d.mu.Lock()
	if d.now == nil {
		d.mu.Unlock()
		return nil, ErrClosed
	}
	return d.now, nil
}

// Plant returns the plant as it stands, with the plan in force. It must not be
// changed.
func (d *Desk) Plant() (*plant.Plant, error) {
	s, err := d.sitting()
	if err != nil {
		return nil, err
	}
	defer d.mu.Unlock()
	return s.p, nil
}

// Counts tells what was worked out and what was taken over so far.
func (d *Desk) Counts() DeskCounts {
	d.mu.Lock()
	defer d.mu.Unlock()
	return *d.counts
}

// Plan finds the best plan for the plant as it stands, starting from the plan in
// force, and puts it in force if there is one.
func (d *Desk) Plan(ctx context.Context) (*Result, error) {
	s, err := d.sitting()
	if err != nil {
		return nil, err
	}
	defer d.mu.Unlock()
	r, next, err := d.replan(ctx, s)
	if err == nil && next != nil {
		d.change(next, "the planning")
	}
	return r, err
}

// A SlipAnswer is what becomes of a slip.
type SlipAnswer struct {
	Result *Result
	After  *plant.Plant // the slips made facts, with the plan in force before them
	Impact *Impact      // nil when there is no plan
}

// Slip makes slips facts and answers them: what Replan and Compare say. If there is a
// plan it is put in force; if there is none, the desk stays as it was. Slips that
// cannot be applied are an error that names each.
func (d *Desk) Slip(ctx context.Context, slips ...plant.Slip) (*SlipAnswer, error) {
	s, err := d.sitting()
	if err != nil {
		return nil, err
	}
	defer d.mu.Unlock()
	after, err := s.p.Apply(slips)
	if err != nil {
		return nil, err
	}
	a := &SlipAnswer{After: after}
	var next *sitting
	if a.Result, next, err = d.replan(ctx, s.then(after)); err != nil || next == nil {
		return a, err
	}
	if a.Impact, err = Compare(s.p, after, slips, a.Result.Plan); err != nil {
		return nil, err
	}
	d.change(next, fmt.Sprintf("the slip of %s", slipNames(slips)))
	d.past[len(d.past)-1].after = after
	return a, nil
}

// slipNames names what slips are about.
func slipNames(slips []plant.Slip) string {
	var names []string
	for _, s := range slips {
		for _, id := range []string{s.Truck, s.Bay, s.Crew, s.Visit} {
			if id != "" && !slices.Contains(names, id) {
				names = append(names, id)
			}
		}
	}
	return joined(names, "and")
}

// replan answers a sitting; next is the sitting with the new plan in force, nil when
// there is none.
func (d *Desk) replan(ctx context.Context, s *sitting) (r *Result, next *sitting, err error) {
	since := stopwatch(d.o.Clock)
	q, lost, err := s.question()
	if err != nil {
		return nil, nil, err
	}
	if len(lost) > 0 {
		q = &question{p: s.p}
	}
	if r, err = q.best(ctx, lost, d.o, true, since); err != nil || r.Plan == nil {
		return r, nil, err
	}
	with := *s.p
	with.Plan = r.Plan
	return r, s.then(&with), nil
}

// change puts a sitting in force.
func (d *Desk) change(next *sitting, what string) {
	if d.past = append(d.past, change{before: d.now, what: what}); len(d.past) > maxUndo {
		d.past = slices.Delete(d.past, 0, 1)
	}
	d.now, d.given = next, nil
}

// Undo takes the last change back, be it a planning, a slip or a booking, and says in
// words which.
func (d *Desk) Undo() (string, error) {
	if _, err := d.sitting(); err != nil {
		return "", err
	}
	defer d.mu.Unlock()
	n := len(d.past)
	if n == 0 {
		return "", errors.New("there is nothing to undo: nothing has changed since the desk was opened, or more than can be taken back")
	}
	last := d.past[n-1]
	d.past[n-1] = change{}
	d.now, d.past = last.before, d.past[:n-1]
	return last.what, nil
}

// Offers decides every day for the visit of a truck; see Offers. The slips made known
// to Slip have happened.
func (d *Desk) Offers(ctx context.Context, truck string) (*OfferList, error) {
	s, err := d.sitting()
	if err != nil {
		return nil, err
	}
	defer d.mu.Unlock()
	at, err := s.at(ctx, truck)
	if err != nil {
		return nil, err
	}
	return at.offers(ctx, d.o)
}

// Why explains a day for the visit of a truck; see Why.
func (d *Desk) Why(ctx context.Context, truck string, day calendar.Date) (*Explanation, error) {
	s, err := d.sitting()
	if err != nil {
		return nil, err
	}
	defer d.mu.Unlock()
	st, err := s.explained(ctx, truck)
	if err != nil {
		return nil, err
	}
	return st.why(ctx, day)
}

// Repairs finds the ways out that Mend finds: of the last change when that was a slip
// and the goal is the zero one (Day calendar.None, no truck), else of the plan in force
// as it stands. The plans in them are not put in force. Of the plants with measures taken
// that Mend asks about, starts of stages and orders of work are kept for the next call.
func (d *Desk) Repairs(ctx context.Context, goal Goal) (*Repairs, error) {
	s, err := d.sitting()
	if err != nil {
		return nil, err
	}
	defer d.mu.Unlock()
	before, after := s.p, s.p
	if n := len(d.past); n > 0 && d.past[n-1].after != nil && goal == (Goal{Day: calendar.None}) {
		before, after = d.past[n-1].before.p, d.past[n-1].after
	}
	if d.ledger == nil || !d.ledger.serves(after) {
		d.ledger = newLedger(after)
	}
	return mend(ctx, before, after, s.p.Plan, goal, d.o, d.ledger)
}

// Book agrees on the day of a visit, or on how firm it is. The plan in force stays,
// and says of the visit what the booking makes of it; where it has another day for the
// visit, Plan brings it there. A booking that the plant file could not hold is an
// error.
func (d *Desk) Book(visit string, b plant.Booking) error {
	return d.book(visit, b, "the booking of "+visit)
}

// Unbook takes a booking back: the visit is requested again.
func (d *Desk) Unbook(visit string) error {
	b := plant.Booking{State: plant.Requested, Day: calendar.None, HoldUntil: calendar.None}
	return d.book(visit, b, "giving back the booking of "+visit)
}

func (d *Desk) book(visit string, b plant.Booking, what string) error {
	s, err := d.sitting()
	if err != nil {
		return err
	}
	defer d.mu.Unlock()
	p, err := Booked(s.p, visit, b)
	if err != nil {
		return err
	}
	d.change(s.then(p), what)
	return nil
}

// booked is the plan with its word on one visit, scored.
func booked(p *plant.Plant, plan *plant.Plan, visit string) *plant.Plan {
	out := *plan
	out.Visits = slices.Clone(plan.Visits)
	b := p.FindVisit(visit).Booking
	for i := range out.Visits {
		v := &out.Visits[i]
		switch {
		case v.Visit != visit || v.Outcome == plant.Broken:
		case b.State == plant.Requested:
			v.Outcome = plant.Placed
		case v.Day == b.Day:
			v.Outcome = plant.Kept
		default:
			v.Outcome = plant.Moved
		}
	}
	return scored(p, &out)
}

// scored is the plan with its score, as the plant now has it. Nothing is proven of it any
// more.
func scored(p *plant.Plant, plan *plant.Plan) *plant.Plan {
	out := *plan
	out.Status = plant.Feasible
	out.Tiers = nil
	for _, t := range check.Score(p, &out) {
		out.Tiers = append(out.Tiers, plant.TierValue{Name: t.Name, Value: t.Value})
	}
	return &out
}
