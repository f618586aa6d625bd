package api

import (
	"context"

	"wetdown/calendar"
	"wetdown/solver"
)

// An OffersQuestion asks which days the next visit to a truck can take. The answer of
// its job is a solver.OfferList.
type OffersQuestion struct {
	Truck  string
	Prices bool // also what a refused day would cost
}

// A WhyQuestion asks why a visit cannot be on a day, or, without a day, why the plan
// moves or breaks visits or delivers late. The answer is a list of
// solver.Explanation.
type WhyQuestion struct {
	Truck string // "" with no day: all trucks
	Day   calendar.Date
}

// AskOffers asks for the days on offer.
func (a *App) AskOffers(ctx context.Context, who Actor, q OffersQuestion) (*Job, error) {
	if err := a.knowsTruck(ctx, q.Truck); err != nil {
		return nil, err
	}
	return a.ask(ctx, who, JobOffers, q)
}

// AskWhy asks for reasons.
func (a *App) AskWhy(ctx context.Context, who Actor, q WhyQuestion) (*Job, error) {
	if q.Truck != "" || q.Day != calendar.None {
		if err := a.knowsTruck(ctx, q.Truck); err != nil {
			return nil, err
		}
	}
	return a.ask(ctx, who, JobWhy, q)
}

func (a *App) knowsTruck(ctx context.Context, truck string) error {
	s, err := a.head(ctx)
	if err == nil && s.Plant.FindTruck(truck) == nil {
		err = noSuch("truck", truck, truckNames(s.Plant))
	}
	return err
}

func (a *App) offers(ctx context.Context, s *State, q OffersQuestion) (*solver.OfferList, error) {
	if q.Prices {
		return solver.Offers(ctx, s.Plant, q.Truck, solver.Options{Prices: true})
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
	return solver.Causes(ctx, s.Plant, s.Plant.Plan, q.Truck, solver.Options{})
}

func noPlan() *Problem {
	return &Problem{Kind: Conflict, Title: "There is no plan yet", Detail: "The plant has no plan in force.", Next: "Ask for a proposal and accept it."}
}
