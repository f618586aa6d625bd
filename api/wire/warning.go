package wire

import (
	"wetdown/solver/plant"
)

// A Warning is what is allowed in a file but is probably not meant.
type Warning struct {
	File  string  `json:"file"`
	Line  *int    `json:"line"` // from 1; null for what is not written there
	Field *string `json:"field"`
	What  string  `json:"what"`
	Next  string  `json:"next"`
}

// ToWarning writes a warning.
func ToWarning(f plant.Fault) Warning {
	w := Warning{File: f.File, Field: Text(f.Field), What: f.What, Next: f.Next}
	if f.Line > 0 {
		w.Line = &f.Line
	}
	return w
}
