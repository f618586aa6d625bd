package api

import (
	"context"

	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
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

// A RepairsQuestion asks for ways out. The answer is a RepairsAnswer.
type RepairsQuestion struct {
	Truck string // "" with no day: of what the recorded slips do to everybody
	Day   calendar.Date
}

// A RepairsAnswer is what was found.
type RepairsAnswer struct {
	Slips   []plant.Slip // that had been recorded
	Repairs *solver.Repairs
	Said    []string // a sentence for each of Repairs.List
	Nothing string   // and for doing nothing
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

// AskRepairs asks for ways out.
func (a *App) AskRepairs(ctx context.Context, who Actor, q RepairsQuestion) (*Job, error) {
	if q.Truck != "" || q.Day != calendar.None {
		if err := a.knowsTruck(ctx, q.Truck); err != nil {
			return nil, err
		}
	}
	return a.ask(ctx, who, JobRepairs, q)
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
	a.desk.mu.Lock()
	defer a.desk.mu.Unlock()
	d, err := a.onDesk(ctx, s)
	if err != nil {
		return nil, err
	}
	return d.Offers(ctx, q.Truck)
}

func (a *App) why(ctx context.Context, s *State, q WhyQuestion) ([]*solver.Explanation, error) {
	if q.Day != calendar.None {
		a.desk.mu.Lock()
		defer a.desk.mu.Unlock()
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

func (a *App) repairs(ctx context.Context, s *State, q RepairsQuestion, _ func(solver.Progress)) (*RepairsAnswer, error) {
	out := &RepairsAnswer{}
	before, after, nothing := s.Plant, s.Plant, s.Plant.Plan
	if nothing == nil {
		return nil, noPlan()
	}
	goal := solver.Goal{Truck: q.Truck, Day: q.Day}
	if q.Truck == "" && len(before.Slips) > 0 {
		out.Slips = before.Slips
		var err error
		if after, err = before.Apply(before.Slips); err != nil {
			return nil, err
		}
		r, err := solver.Replan(ctx, after, solver.Options{})
		if err != nil {
			return nil, err
		}
		nothing = r.Plan
	}
	var err error
	if out.Repairs, err = solver.Mend(ctx, before, after, nothing, goal, solver.Options{}); err != nil {
		return nil, err
	}
	for i := range out.Repairs.List {
		out.Said = append(out.Said, out.Repairs.List[i].Sentence(after))
	}
	if out.Repairs.Nothing != nil {
		out.Nothing = out.Repairs.Nothing.Sentence(after)
	}
	return out, nil
}

func noPlan() *Problem {
	return &Problem{Kind: Conflict, Title: "There is no plan yet", Detail: "The plant has no plan in force.", Next: "Ask for a proposal and accept it."}
}
