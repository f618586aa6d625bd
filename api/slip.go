package api

import (
	"context"
	"fmt"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// ReportSlip records something that happened and that a plan must answer. It is given
// the id that comes back. What cannot have happened is a problem.
func (a *App) ReportSlip(ctx context.Context, who Actor, i Intent, slip plant.Slip) (*State, string, error) {
	id := slip.ID
	s, err := a.change(ctx, who, ActReport, i, func(s *State) (*next, error) {
		slip := slip
		if slip.ID == "" {
			slip.ID = freeName("S", func(n string) bool {
				return slices.ContainsFunc(s.Plant.Slips, func(x plant.Slip) bool { return x.ID == n }) || s.Revision.Number == 0
			}, s.Revision.Number)
		} else if slices.ContainsFunc(s.Plant.Slips, func(x plant.Slip) bool { return x.ID == slip.ID }) {
			return nil, &Problem{Kind: Conflict, Title: "There is such a slip already", Detail: "The slip " + slip.ID + " is on record.", Next: "Leave the id away, or give another one."}
		}
		id = slip.ID
		if slip.Known == 0 {
			slip.Known = a.today(s.Plant)
		}
		if slip.Over == (plant.Range{}) {
			slip.Over = plant.Range{From: calendar.None, Through: calendar.None}
		}
		p := *s.Plant
		p.Slips = append(slices.Clone(p.Slips), slip)
		if _, err := p.Apply(p.Slips); err != nil {
			return nil, &Problem{Kind: Invalid, Title: "This cannot have happened", Detail: sentence(err.Error()), Next: "Correct what the sentence names."}
		}
		return &next{plant: &p, what: slipSentence(&slip)}, nil
	})
	return s, id, err
}

// WithdrawSlip takes a slip that no plan has answered yet off the record.
func (a *App) WithdrawSlip(ctx context.Context, who Actor, i Intent, id string) (*State, error) {
	return a.change(ctx, who, ActReport, i, func(s *State) (*next, error) {
		p := *s.Plant
		p.Slips = slices.DeleteFunc(slices.Clone(p.Slips), func(x plant.Slip) bool { return x.ID == id })
		if len(p.Slips) == len(s.Plant.Slips) {
			return nil, noSuch("slip", id, slipNames(s.Plant))
		}
		return &next{plant: &p, what: "The slip " + id + " was withdrawn."}, nil
	})
}

func slipNames(p *plant.Plant) (names []string) {
	for i := range p.Slips {
		names = append(names, p.Slips[i].ID)
	}
	return names
}

// slipSentence says what happened.
func slipSentence(s *plant.Slip) string {
	switch s.Kind {
	case plant.LineOffMoved:
		return fmt.Sprintf("Slip %s: line-off of truck %s moved by %s.", s.ID, s.Truck, count(s.Days, "working day"))
	case plant.StageOverran:
		return fmt.Sprintf("Slip %s: %s of truck %s takes %s longer.", s.ID, spoken(s.Stage), s.Truck, count(s.Minutes, "working minute"))
	case plant.TestFailed:
		return fmt.Sprintf("Slip %s: %s of truck %s must be repeated.", s.ID, spoken(s.Stage), s.Truck)
	case plant.BayDown:
		return fmt.Sprintf("Slip %s: bay %s is down from %s through %s.", s.ID, s.Bay, s.Over.From, s.Over.Through)
	case plant.CrewAway:
		return fmt.Sprintf("Slip %s: %s of crew %s away from %s through %s.", s.ID, count(s.Heads, "head"), s.Crew, s.Over.From, s.Over.Through)
	}
	return fmt.Sprintf("Slip %s: the customer of visit %s cannot come from %s through %s.", s.ID, s.Visit, s.Over.From, s.Over.Through)
}

func count(n int, noun string) string {
	if n == 1 || n == -1 {
		return fmt.Sprintf("%d %s", n, noun)
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// sentence begins with a capital and ends with a full stop.
func sentence(s string) string {
	if s == "" {
		return s
	}
	if s[0] >= 'a' && s[0] <= 'z' {
		s = string(s[0]-'a'+'A') + s[1:]
	}
	if last := s[len(s)-1]; last != '.' && last != '?' {
		s += "."
	}
	return s
}

// freeName is a name that nothing bears yet: the prefix and a number, from `from` on.
func freeName(prefix string, taken func(string) bool, from int64) string {
	for n := max(1, from); ; n++ {
		if name := fmt.Sprintf("%s%d", prefix, n); !taken(name) {
			return name
		}
	}
}
