package api

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"wetdown/api/wire"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/check"
	"wetdown/solver/plant"
)

// An OffersQuestion asks which days the next visit to a truck can take. The answer of
// its job is a solver.OfferList.
type OffersQuestion struct {
	Truck      string
	Prices     bool // also what a refused day would cost
	Conditions []plant.Condition
}

// A WhyQuestion asks why a visit cannot be on a day, or, without a day, why the plan
// moves or breaks visits or delivers late: the plan in force, or the best one where that
// does not fit the plant and the conditions (see State.Fits); or that of a proposal that
// is not in force. The answer is a list of solver.Explanation.
type WhyQuestion struct {
	Truck      string // "" with no day: all trucks
	Day        calendar.Date
	Conditions []plant.Condition
	Proposal   string // its id; "" for none. It comes without a day, and with its own conditions
}

// AskOffers asks for the days on offer.
func (a *App) AskOffers(ctx context.Context, who Actor, q OffersQuestion) (*Job, error) {
	if err := a.posed(ctx, q.Truck, q.Conditions); err != nil {
		return nil, err
	}
	return a.ask(ctx, who, JobOffers, q)
}

// AskWhy asks for reasons.
func (a *App) AskWhy(ctx context.Context, who Actor, q WhyQuestion) (*Job, error) {
	if err := a.posed(ctx, q.Truck, q.Conditions); err != nil {
		return nil, err
	}
	if q.Truck == "" && q.Day != calendar.None {
		return nil, dayWithoutTruck()
	}
	if q.Proposal != "" {
		if _, err := a.undecided(ctx, q.Proposal); err != nil {
			return nil, err
		}
	}
	return a.ask(ctx, who, JobWhy, q)
}

// undecided is a proposal with a plan that is not in force.
func (a *App) undecided(ctx context.Context, id string) (p *Proposal, err error) {
	err = a.store.View(ctx, func(tx Tx) error {
		e, err := fetch[Proposal](tx, KindProposal, id)
		p = e.proposal()
		return err
	})
	switch {
	case err != nil:
		return nil, err
	case p.State == ProposalAccepted:
		return nil, &Problem{Kind: Conflict, Title: "The proposal is in force", Detail: fmt.Sprintf("It became revision %d.", p.Revision), Next: "Ask why the plan in force is as it is."}
	case len(p.Changes) == 0:
		return nil, &Problem{Kind: Conflict, Title: "There is no plan to explain", Detail: "The proposal has none.", Next: "Read the reasons of the proposal."}
	}
	return p, nil
}

// whyProposed explains what the plan of a proposal does.
func (a *App) whyProposed(ctx context.Context, s *State, q WhyQuestion) ([]*solver.Explanation, error) {
	p, err := a.undecided(ctx, q.Proposal)
	if err != nil {
		return nil, err
	}
	after, err := onto(s, p)
	if err != nil {
		return nil, err
	}
	x := *after
	x.Plan = s.Plant.Plan // which the conditions and the plan of the proposal come from
	return solver.Causes(ctx, &x, after.Plan, q.Truck, solver.Options{Conditions: p.Conditions})
}

// posed looks whether the plant knows a truck, "" for none, and what conditions name.
func (a *App) posed(ctx context.Context, truck string, conditions []plant.Condition) error {
	s, err := a.head(ctx)
	if err != nil {
		return err
	}
	if truck != "" && s.Plant.FindTruck(truck) == nil {
		return noSuch("truck", truck, truckNames(s.Plant))
	}
	if faults := s.Plant.Conditions(conditions); len(faults) > 0 {
		return faulty(faults)
	}
	return nil
}

func dayWithoutTruck() *Problem {
	return invalid("truck", "There is a day and no truck.", "Say whose visit it is about, or leave the day out.")
}

// contradicted is the problem with conditions that no plan for p obeys. Other errors are
// passed on.
func contradicted(p *plant.Plant, err error) error {
	var c *solver.Contradiction
	if !errors.As(err, &c) {
		return err
	}
	out := &Problem{
		Kind: Refused, Title: "No plan obeys what is asked", Detail: strings.Join(c.Sentences, " "),
		Next: "Ask again without one of the conditions that are named.", Extra: map[string]any{"contradiction": wire.ToContradiction(p, c)},
	}
	switch {
	case c.Plant:
		out.Next = "Ask for a proposal without conditions first, and do what its reasons say."
	case !c.Whole:
		out.Kind, out.Next = Conflict, "Ask again with fewer conditions."
	}
	return out
}

func (a *App) offers(ctx context.Context, s *State, q OffersQuestion) (*solver.OfferList, error) {
	if q.Prices || len(q.Conditions) > 0 { // which no desk takes
		list, err := solver.Offers(ctx, s.Plant, q.Truck, solver.Options{Prices: q.Prices, Conditions: q.Conditions})
		return list, contradicted(s.Plant, err)
	}
	leave, err := a.desk.sit(ctx)
	if err != nil {
		return nil, err
	}
	defer leave()
	d, err := a.onDesk(ctx, s)
	if err != nil {
		return nil, err
	}
	return d.Offers(ctx, q.Truck)
}

func (a *App) why(ctx context.Context, s *State, q WhyQuestion) ([]*solver.Explanation, error) {
	if q.Proposal != "" {
		return a.whyProposed(ctx, s, q)
	}
	if q.Day != calendar.None && len(q.Conditions) > 0 { // which no desk takes
		x, err := solver.Why(ctx, s.Plant, q.Truck, q.Day, solver.Options{Conditions: q.Conditions})
		return []*solver.Explanation{x}, contradicted(s.Plant, err)
	}
	if q.Day != calendar.None {
		leave, err := a.desk.sit(ctx)
		if err != nil {
			return nil, err
		}
		defer leave()
		d, err := a.onDesk(ctx, s)
		if err != nil {
			return nil, err
		}
		e, err := d.Why(ctx, q.Truck, q.Day)
		return []*solver.Explanation{e}, err
	}
	if s.Plant.Plan == nil {
		return nil, noPlan()
	}
	o := solver.Options{Conditions: q.Conditions}
	plan := s.Plant.Plan
	if !s.Fits(q.Conditions) {
		r, err := solver.Plan(ctx, s.Plant, o)
		if err != nil {
			return nil, err
		}
		switch {
		case r.Contradiction != nil:
			return nil, contradicted(s.Plant, r.Contradiction)
		case r.Plan == nil:
			return nil, &solver.NoPlan{Result: r}
		}
		plan = r.Plan
	}
	return solver.Causes(ctx, s.Plant, plan, q.Truck, o)
}

// Fits reports whether the plan in force obeys every rule and the conditions.
func (s *State) Fits(conditions []plant.Condition) bool {
	if s.Plant.Plan == nil {
		return false
	}
	p := solver.Under(s.Plant, conditions)
	return check.Plan(p, p.Plan).Right() && len(check.Conditions(p, p.Plan, conditions)) == 0
}

func noPlan() *Problem {
	return &Problem{Kind: Conflict, Title: "There is no plan in force", Detail: "What was asked is read off a plan.", Next: "Ask for a proposal and accept it, then ask again."}
}
