package rest

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"time"

	"wetdown/api"
	"wetdown/solver/plant"
)

// postLineOff takes what people say about line-off days.
func postLineOff(x *exchange) error {
	var in struct {
		Reports []struct {
			Truck  string `json:"truck"`
			Day    string `json:"day"`
			Off    bool   `json:"off"`
			Reason string `json:"reason"`
			Cause  string `json:"cause"`
		} `json:"reports"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	if len(in.Reports) == 0 {
		return invalid("reports", "Nothing is reported.", "Give at least one truck with a day.")
	}
	var list []api.LineOff
	for n, r := range in.Reports {
		day, err := aDay(fmt.Sprintf("reports[%d].day", n+1), r.Day)
		if err != nil {
			return err
		}
		list = append(list, api.LineOff{Truck: r.Truck, Day: day, Off: r.Off, Reason: r.Reason, Cause: r.Cause})
	}
	i, err := x.intent(api.Whole)
	if err != nil {
		return err
	}
	s, err := x.app.ReportLineOff(x.Request().Context(), x.who, i, list...)
	if err != nil {
		return err
	}
	return x.changed(s)
}

// postProgress takes what became of stages.
func postProgress(x *exchange) error {
	var in struct {
		AsOf      string `json:"as_of"`
		AsPlanned bool   `json:"as_planned"`
		Stages    []struct {
			Truck            string `json:"truck"`
			Stage            string `json:"stage"`
			Started          string `json:"started"`
			Ended            string `json:"ended"`
			Bay              string `json:"bay"`
			RemainingMinutes *int   `json:"remaining_minutes"`
			Stands           bool   `json:"stands"`
		} `json:"stages"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	r := api.Report{AsPlanned: in.AsPlanned}
	var err error
	if r.AsOf, err = aMoment("as_of", in.AsOf); err != nil {
		return err
	}
	for n, g := range in.Stages {
		row := api.Progress{Truck: g.Truck, Stage: g.Stage, Bay: g.Bay, Remaining: -1, Stands: g.Stands}
		if g.RemainingMinutes != nil {
			row.Remaining = *g.RemainingMinutes
		}
		if row.Started, err = aMoment(fmt.Sprintf("stages[%d].started", n+1), g.Started); err != nil {
			return err
		}
		if row.Ended, err = aMoment(fmt.Sprintf("stages[%d].ended", n+1), g.Ended); err != nil {
			return err
		}
		r.Rows = append(r.Rows, row)
	}
	i, err := x.intent(api.Whole)
	if err != nil {
		return err
	}
	s, err := x.app.ReportProgress(x.Request().Context(), x.who, i, r)
	if err != nil {
		return err
	}
	return x.changed(s)
}

// postSlip records a slip, in the words of the plant file. Without an id it is given one.
func postSlip(x *exchange) error {
	if err := x.isJSON(); err != nil {
		return err
	}
	var in map[string]json.RawMessage
	if err := json.Unmarshal(x.body, &in); err != nil || in == nil {
		return unreadable("The body is not one JSON object.", "Send one JSON object with the keys of a slip in the plant file, and nothing after it.")
	}
	ctx := x.Request().Context()
	before, err := x.app.State(ctx, api.Service, 0)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := json.Compact(&b, x.body); err != nil {
		return err
	}
	text, named := b.Bytes(), in["id"] != nil
	head := `{"wetdown": 1`
	if !named {
		head += `, "id": "new"`
	}
	if len(in) > 0 {
		head += ", "
	}
	text = append([]byte(head), text[1:]...)
	slip, faults := plant.ReadSlip("", text, before.Plant)
	if len(faults) > 0 {
		return faulty(unplaced(faults))
	}
	if !named {
		slip.ID = ""
	}
	i, err := x.intent(api.Whole)
	if err != nil {
		return err
	}
	s, id, err := x.app.ReportSlip(ctx, x.who, i, *slip)
	if err != nil {
		return err
	}
	x.detail = s.Revision.What
	h := x.Response().Header()
	h.Set("ETag", tag(s.Revision.Number))
	h.Set("Location", "/slips/"+id)
	return x.JSON(http.StatusCreated, struct {
		ID       string       `json:"id"`
		Revision wireRevision `json:"revision"`
	}{id, toRevision(s.Revision)})
}

// dropSlip takes a slip off the record.
func dropSlip(x *exchange) error {
	i, err := x.intent("slips/" + x.Param("id"))
	if err != nil {
		return err
	}
	s, err := x.app.WithdrawSlip(x.Request().Context(), x.who, i, x.Param("id"))
	if err != nil {
		return err
	}
	return x.changed(s)
}

// A limitText is a length of time such as 30s.
type limitText string

func (l limitText) duration() (time.Duration, error) {
	if l == "" {
		return 0, nil
	}
	d, err := time.ParseDuration(string(l))
	if err != nil || d <= 0 || d > api.MaxSolve {
		return 0, invalid("limit", fmt.Sprintf("%.20q is no length of time to plan.", string(l)), fmt.Sprintf("Write one such as 30s, up to %s, or leave it out.", api.MaxSolve))
	}
	return d, nil
}
