package main

import "wetdown/solver/plant"

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
