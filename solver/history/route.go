package history

import (
	"strings"

	"wetdown/solver/chance"
	"wetdown/solver/plant"
)

// runs is how many times the estimates of a route are drawn.
const runs = 2000

// threePoint is the law of slips by the estimates of the route: the hours by which
// the stages up to what is asked about exceed their likely ones, each drawn by
// itself, and all of them one after the other. Stages that only some trucks need
// are left out, and so are line-off and all else without estimates: nil.
func (h *History) threePoint(q Question) *chance.Empirical {
	var laws []chance.PERT
	for _, s := range h.upTo(q.What) {
		e := s.Hours.Of(q.Content)
		if l, err := chance.NewPERT(float64(e.MinMinutes-e.LikelyMinutes), 0, float64(e.MaxMinutes-e.LikelyMinutes)); err == nil && l.Least < l.Most {
			laws = append(laws, l)
		}
	}
	if len(laws) == 0 {
		return nil
	}
	tables := make([]*chance.Table, len(laws))
	for i, l := range laws {
		tables[i] = chance.NewTable(l, 128)
	}
	r := chance.Stream(h.o.Seed, 0, "route", q.What, q.Content)
	slips := make([]float64, runs)
	lead := float64(h.lead(q.On, q.Projected))
	for i := range slips {
		for _, t := range tables {
			slips[i] += chance.Draw(t, r)
		}
		slips[i] = max(-lead, roundDays(slips[i], h.o.DayMinutes))
	}
	law, err := chance.NewEmpirical(slips, nil)
	if err != nil {
		return nil
	}
	return law
}

// roundDays turns minutes into working days begun.
func roundDays(minutes float64, day int) float64 {
	days := minutes / float64(day)
	whole := float64(int(days))
	if days > whole {
		whole++
	}
	return whole
}

// upTo lists the stages of the route that come before what ends, with the stage
// itself: a stage by its name, a visit, a delivery.
func (h *History) upTo(what string) (list []*plant.Stage) {
	byID := map[string]*plant.Stage{}
	var last []string
	for i := range h.o.Route {
		s := &h.o.Route[i]
		byID[s.ID] = s
		if s.ID == what || s.Visit == what || what == Delivery && s.Delivers {
			last = append(last, s.ID)
		}
	}
	in := map[string]bool{}
	for len(last) > 0 {
		id := last[0]
		if last = last[1:]; in[id] || byID[id] == nil {
			continue
		}
		in[id] = true
		for _, a := range byID[id].After {
			last = append(last, a.Stage)
		}
	}
	for i := range h.o.Route {
		if s := &h.o.Route[i]; in[s.ID] && (len(s.Needs) == 0 || s.ID == what) && s.Length == plant.LengthHours {
			list = append(list, s)
		}
	}
	return list
}

// spoken writes a word of a file for people.
func spoken(word string) string { return strings.ReplaceAll(word, "_", " ") }
