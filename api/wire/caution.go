package wire

import (
	"wetdown/solver/plant"
)

// A Hazard is a kind of hazardous work in a plan.
type Hazard struct {
	Work     string    `json:"work"`
	Brief    string    `json:"brief"` // a line or two
	Cautions []Caution `json:"cautions"`
}

// A Caution is one of the numbered cautions.
type Caution struct {
	ID    string `json:"id"`
	Title string `json:"title"`
	Text  string `json:"text"`
}

// ToHazard writes a kind of hazardous work.
func ToHazard(h plant.Hazard) Hazard {
	return Hazard{h.Work, h.Brief, Each(h.Cautions, func(c plant.Caution) Caution { return Caution{c.ID, c.Title, c.Text} })}
}
