package check

import (
	"cmp"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// A Violation is one place where a plan breaks one rule. What it does not speak
// of is empty.
type Violation struct {
	Rule     string          // name of the rule, see Rules
	Truck    string          // shop order number
	Stage    string          // id of the row: a stage, or stage "." wish
	Visit    string          // id
	Bay      string          // id
	Crew     string          // id
	At       calendar.Moment // when it happens, calendar.NoMoment if at no moment
	Sentence string          // for people: what is wrong, with the numbers, and what to do
}

// A Verdict is what the judge says of a plan.
type Verdict struct {
	Broken []Violation       // by rule in the order of Rules, then truck, stage, visit, bay, crew, moment
	Tiers  []plant.TierValue // what the plan costs, as Score; nil if the plant cannot be judged by
	Asked  int               // stages, wishes and visits that the plant asks for
	Looked int               // those of them that were found in the plan, once each, and judged
}

// Right reports whether the plan breaks no rule and everything that the plant
// asks for was looked at.
func (v Verdict) Right() bool { return len(v.Broken) == 0 && v.Looked == v.Asked }

// Plan judges a plan for the plant. The order of the plan's rows does not matter,
// and nothing in either is changed. A nil plan is an empty one. A plant that
// cannot be judged by (a calendar or zone that does not compile) breaks the rule
// "complete": no plan is right for it.
func Plan(p *plant.Plant, plan *plant.Plan) Verdict {
	b, err := Open(p)
	if err != nil {
		return nothing(err)
	}
	return b.Plan(plan)
}

// Plan is the function Plan for the plant of the bench.
func (b *Bench) Plan(plan *plant.Plan) Verdict {
	h, err := b.hear(plan)
	if err != nil {
		return nothing(err)
	}
	return h.judge()
}

// nothing is the verdict where nothing can be judged.
func nothing(err error) Verdict {
	return Verdict{Broken: []Violation{{
		Rule:     "complete",
		At:       calendar.NoMoment,
		Sentence: "Nothing can be judged: " + err.Error() + ". Mend the plant file first.",
	}}}
}

// judge asks every rule and puts the complaints in order.
func (h *hearing) judge() Verdict {
	for _, r := range Rules {
		h.rule = r.Name
		r.judge(h)
	}
	asked, looked := h.count()
	if len(h.broken) == 0 && asked != looked {
		h.rule = "complete"
		h.report(Violation{At: calendar.NoMoment}, "%d stages, wishes and visits are asked for and %d were looked at. This is a fault of the judge: keep the file and report it.", asked, looked)
	}
	order := make(map[string]int, len(Rules))
	for i, r := range Rules {
		order[r.Name] = i
	}
	slices.SortFunc(h.broken, func(a, b Violation) int {
		return cmp.Or(
			cmp.Compare(order[a.Rule], order[b.Rule]),
			cmp.Compare(a.Truck, b.Truck),
			cmp.Compare(a.Stage, b.Stage),
			cmp.Compare(a.Visit, b.Visit),
			cmp.Compare(a.Bay, b.Bay),
			cmp.Compare(a.Crew, b.Crew),
			cmp.Compare(a.At, b.At),
			cmp.Compare(a.Sentence, b.Sentence),
		)
	})
	return Verdict{Broken: h.broken, Tiers: h.score(), Asked: asked, Looked: looked}
}
