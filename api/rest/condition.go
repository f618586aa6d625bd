package rest

import (
	"bytes"
	"encoding/json"

	"wetdown/api"
	"wetdown/solver/plant"
)

// conditions reads what a person insists on, in the words of a file of conditions; null and
// nothing are none.
func (x *exchange) conditions(text json.RawMessage) ([]plant.Condition, error) {
	if len(text) == 0 || string(text) == "null" {
		return nil, nil
	}
	s, err := x.app.State(x.Request().Context(), api.Service, 0)
	if err != nil {
		return nil, err
	}
	var line bytes.Buffer
	if err := json.Compact(&line, text); err != nil {
		return nil, err
	}
	list, faults := plant.ReadConditions("", []byte(`{"wetdown": 1, "conditions": `+line.String()+`}`), s.Plant)
	if len(faults) > 0 {
		return nil, faulty(unplaced(faults))
	}
	return list, nil
}
