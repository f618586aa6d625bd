package rest

import (
	"strconv"

	"wetdown/api"
)

// A wireEvent is one attempt to do something.
type wireEvent struct {
	Number  int64   `json:"number"`
	At      *string `json:"at"`
	Who     string  `json:"who"` // "": nobody was known
	Act     string  `json:"act"`
	Subject string  `json:"subject"`
	Outcome string  `json:"outcome"`
	Detail  string  `json:"detail"`
}

func listTrail(x *exchange) error {
	before, limit, err := x.newest()
	if err != nil {
		return err
	}
	events, err := x.app.Trail(x.Request().Context(), x.who, before, limit+1)
	if err != nil {
		return err
	}
	return paged(x, "before", events, limit, func(e api.Event) string { return strconv.FormatInt(e.Seq, 10) }, func(e api.Event) wireEvent {
		return wireEvent{e.Seq, loggedTime(e.At), e.Who, e.Act, e.Subject, e.Outcome, e.Detail}
	})
}
