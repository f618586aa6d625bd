package rest

import (
	"fmt"

	"wetdown/api"
)

// postLine takes what happened on the line.
func postLine(x *exchange) error {
	var in struct {
		Steps []struct {
			Truck   string `json:"truck"`
			Day     string `json:"day"`
			Station string `json:"station"`
			Off     bool   `json:"off"`
			Feeder  string `json:"feeder"`
		} `json:"steps"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	if len(in.Steps) == 0 {
		return invalid("steps", "Nothing is reported.", "Give at least one thing that happened to a truck.")
	}
	var list []api.LineStep
	for n, s := range in.Steps {
		day, err := aDay(fmt.Sprintf("steps[%d].day", n+1), s.Day)
		if err != nil {
			return err
		}
		list = append(list, api.LineStep{Truck: s.Truck, Day: day, Station: s.Station, Off: s.Off, Feeder: s.Feeder})
	}
	i, err := x.intent(api.Whole)
	if err != nil {
		return err
	}
	s, err := x.app.ReportLine(x.Request().Context(), x.who, i, list...)
	if err != nil {
		return err
	}
	return x.changed(s)
}
