package main

import "wetdown/solver/plant"

// wireHazard is a kind of hazardous work in a plan, for machines.
type wireHazard struct {
	Work     string        `json:"work"`
	Brief    string        `json:"brief"` // a line or two
	Cautions []wireCaution `json:"cautions"`
}

type wireCaution struct {
	ID    string `json:"id"`
	Title string `json:"title"`
	Text  string `json:"text"`
}

func toHazard(h plant.Hazard) wireHazard {
	return wireHazard{h.Work, h.Brief, each(h.Cautions, func(c plant.Caution) wireCaution { return wireCaution{c.ID, c.Title, c.Text} })}
}

// cautions ends a page that shows a plan: one item for each kind of hazardous work
// in it, and who decides.
func cautions(pg *page, p *plant.Plant, plan *plant.Plan) {
	list := p.Hazards(plan)
	if len(list) == 0 {
		return
	}
	pg.gap("Cautions for the work in this plan")
	for _, h := range list {
		pg.item("%s: %s", h.Work, h.Brief)
	}
	pg.say("%s", plant.Deferral)
}
