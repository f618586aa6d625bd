package rest

import "wetdown/api"

// postWorth asks whose day hurts most if it is lost, and what one more would buy.
func postWorth(x *exchange) error {
	var in struct {
		Trucks []string  `json:"trucks"`
		Bays   []string  `json:"bays"`
		Crews  []string  `json:"crews"`
		Top    *int      `json:"top"`
		Limit  limitText `json:"limit"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	q := api.WorthQuestion{Trucks: in.Trucks, Bays: in.Bays, Crews: in.Crews, Top: api.WorstDays}
	if in.Top != nil {
		q.Top = *in.Top
	}
	var err error
	if q.Limit, err = in.Limit.duration(); err != nil {
		return err
	}
	return x.asked(x.app.AskWorth(x.Request().Context(), x.who, q))
}
