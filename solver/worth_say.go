package solver

import (
	"fmt"
	"slices"
	"strings"

	"wetdown/solver/plant"
)

// Title says in a few words what would happen, or would be bought.
func (s *Stake) Title(p *plant.Plant) string {
	if a := s.Action; a != nil {
		switch a.Kind {
		case plant.HiredBay:
			return "One more bay for " + spaced(a.BayKind)
		case plant.ExtraHeads:
			return "One more of " + crewName(p, a.Crew)
		}
		return upper(SayAction(p, *a))
	}
	switch x := s.Slip; x.Kind {
	case plant.LineOffMoved:
		return x.Truck + " a day later off the line"
	case plant.StageOverran:
		return fmt.Sprintf("%s: %s a day longer", x.Truck, stageName(p, x.Stage))
	case plant.BayDown:
		return fmt.Sprintf("Bay %s closed %s", x.Bay, days(x.Over))
	}
	return fmt.Sprintf("One of %s away %s", crewName(p, s.Slip.Crew), days(s.Slip.Over))
}

// Differs reports whether the best plan with it is known to cost other than the one
// without; of a stake that is not exact, whether the plan found does.
func (s *Stake) Differs() bool {
	return slices.ContainsFunc(s.Tiers, func(t TierStake) bool { return t.Before != t.After })
}

// Exact reports whether every difference is known.
func (s *Stake) Exact() bool {
	return len(s.Tiers) > 0 && !slices.ContainsFunc(s.Tiers, func(t TierStake) bool { return !t.Exact() })
}

// Saved is how many dollars of damages less, or more if negative, the plan with it pays;
// false when that is not known.
func (s *Stake) Saved() (dollars int64, known bool) {
	for _, t := range s.Tiers {
		if t.Name == plant.TierDamages {
			return -t.AtLeast, t.Exact()
		}
	}
	return 0, false
}

// Sentence says what comes of it.
func (s *Stake) Sentence(p *plant.Plant) string {
	lead := s.Title(p) + ": "
	switch {
	case s.Status == plant.Infeasible:
		return lead + "no plan would obey every rule any more. " + strings.Join(s.Reasons, " ")
	case len(s.Tiers) == 0:
		return lead + "not worked out in the time given."
	case s.Action != nil:
		return lead + s.bought()
	case s.Exact() && !s.Differs():
		if s.Untouched {
			return lead + "costs nothing; the plan stays as it is."
		}
		return lead + "costs nothing; another plan is as good. " + s.moved()
	case s.Less:
		return lead + "not planned; it hurts no more than the worst ones, which is proven."
	case !s.Solved && !s.Exact():
		return lead + "not planned; " + s.changes() + "."
	}
	return strings.TrimSpace(lead + s.changes() + ". " + s.moved())
}

// bought says what a purchase gains, for what price.
func (s *Stake) bought() string {
	text := "gains nothing"
	if !s.Exact() || s.Differs() {
		text = s.changes()
	}
	if s.Choice > 1 {
		does := "was found to gain"
		if s.Best {
			does = "gains"
		}
		text += fmt.Sprintf("; of the %d Saturdays that can be had none %s more", s.Choice, does)
	}
	text += ". "
	saved, known := s.Saved()
	switch {
	case s.Price < 0:
		text += "It has no price on the list."
	case s.Times > 1:
		text += fmt.Sprintf("By the price list it costs %s (%d times %s).", Dollars(s.Price), s.Times, Dollars(s.Price/int64(s.Times)))
	default:
		text += fmt.Sprintf("By the price list it costs %s.", Dollars(s.Price))
	}
	if known && s.Price >= 0 && saved > 0 {
		if net := saved - s.Price; net >= 0 {
			text += fmt.Sprintf(" Damages saved pay for it, and %s more.", Dollars(net))
		} else {
			text += fmt.Sprintf(" Damages saved pay for %s of it.", Dollars(saved))
		}
	}
	return text
}

// changes lists the tiers that change.
func (s *Stake) changes() string {
	var list []string
	open := false
	for _, t := range s.Tiers {
		switch {
		case t.Open:
			open = true
		case t.AtLeast == 0 && t.AtMost == 0:
		case t.Exact():
			list = append(list, t.Name+" "+amount(t.Name, t.AtLeast))
		default:
			list = append(list, fmt.Sprintf("%s between %s and %s", t.Name, amount(t.Name, t.AtLeast), amount(t.Name, t.AtMost)))
		}
	}
	if open {
		list = append(list, "what counts less is open")
	}
	return joined(list, "and")
}

// amount is a difference of a tier, with its sign; damages are dollars.
func amount(tier string, v int64) string {
	sign := "+"
	if v < 0 {
		sign, v = "-", -v
	} else if v == 0 {
		sign = ""
	}
	if tier == plant.TierDamages {
		return sign + Dollars(v)
	}
	return sign + strings.TrimPrefix(Dollars(v), "$")
}

// moved says which promises move and whom to call.
func (s *Stake) moved() string {
	if s.Impact == nil {
		return ""
	}
	var text, late, call []string
	for _, v := range s.Impact.Visits {
		text = append(text, v.Sentence())
	}
	for _, d := range s.Impact.Deliveries {
		if d.To.Late > d.From.Late {
			late = append(late, d.Truck)
		}
	}
	for _, c := range s.Impact.Calls {
		if !slices.Contains(call, c.Customer) {
			call = append(call, c.Customer)
		}
	}
	if len(late) > 0 {
		text = append(text, "Later against the contract: "+joined(late, "and")+".")
	}
	if len(text) == 0 {
		text = append(text, "No promise moves.")
	}
	if len(call) > 0 {
		text = append(text, "To call: "+joined(call, "and")+".")
	}
	return strings.Join(text, " ")
}
