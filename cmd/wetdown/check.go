package main

import (
	"fmt"

	"wetdown/api/wire"
	"wetdown/solver/check"
)

type checkCmd struct {
	planFile
}

// Help says more than one line.
func (*checkCmd) Help() string {
	return `The judge knows nothing of how plans are made. It looks at the plan in the file against the plant as the
file says it is; slips recorded but not yet answered are left aside. Exit code 1: a rule is broken.`
}

func (c *checkCmd) run(s *session) (int, error) {
	if err := canWrite(s.Out); err != nil {
		return 0, err
	}
	p, err := s.load(c.File)
	if err != nil {
		return 0, err
	}
	if p.Plan == nil {
		return 0, refuse("%s has no plan in force to be judged: make one with wetdown plan %s -o FILE", c.File, c.File)
	}
	v := check.Plan(p, p.Plan)
	pg := &page{}
	heading(pg, p)
	if n := len(p.Slips); n > 0 {
		pg.say("%s not answered by this plan: see wetdown slip.", count(n, "recorded slip")+plural(n, " is", " are"))
	}
	if v.Right() {
		pg.say("Plan %d is right: it obeys all %d rules. %s stages, wishes and visits are asked for, and every one was looked at.", p.Plan.Revision, len(check.Rules), thousands(int64(v.Asked)))
	} else {
		pg.say("Plan %d breaks a rule in %s.", p.Plan.Revision, count(len(v.Broken), "place"))
	}
	rule := ""
	for _, b := range v.Broken {
		if b.Rule != rule {
			rule = b.Rule
			pg.gap("")
			pg.say("%s: %s", rule, meaning(rule))
		}
		pg.item("%s", b.Sentence)
	}
	if v.Tiers != nil {
		pg.gap("Score, in the order in which it counts")
		t := &table{heads: []string{"tier", ">value", "~counts"}}
		for _, x := range v.Tiers {
			t.add(x.Name, fmt.Sprint(thousands(x.Value)), tierWords[x.Name])
		}
		pg.table(t)
	}
	out := wire.ToCheck(v)
	out.Warnings = s.warned()
	return s.answer(v.Right(), out, pg)
}

// meaning is the sentence of a rule.
func meaning(rule string) string {
	for _, r := range check.Rules {
		if r.Name == rule {
			return r.Sentence
		}
	}
	return ""
}
