package rest

import (
	"net/http"

	"wetdown/api"
	"wetdown/api/paper"
	"wetdown/calendar"
	"wetdown/solver/plant"
)

// sheet answers with a printed sheet of the newest revision. Its style is in it.
func (x *exchange) sheet(print func(p *plant.Plant) ([]byte, error)) error {
	s, err := x.app.State(x.Request().Context(), x.who, 0)
	if err != nil {
		return err
	}
	page, err := print(s.Plant)
	if err != nil {
		return err
	}
	x.Response().Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'")
	return x.HTMLBlob(http.StatusOK, page)
}

// day is the day in the query, or that of the plant's moment.
func (x *exchange) day(p *plant.Plant) (calendar.Date, error) {
	d, err := aDay("day", x.QueryParam("day"))
	if err == nil && d == calendar.None {
		d = p.AsOf.Date()
	}
	return d, err
}

func getVisitSheet(x *exchange) error {
	return x.sheet(func(p *plant.Plant) ([]byte, error) {
		if p.FindVisit(x.Param("id")) == nil {
			return nil, &api.Problem{Kind: api.NotFound, Title: "There is no such visit", Next: "Look it up in the list of visits."}
		}
		return paper.Visit(p, x.Param("id"))
	})
}

func getBayWeek(x *exchange) error {
	return x.sheet(func(p *plant.Plant) ([]byte, error) {
		day, err := x.day(p)
		if err != nil {
			return nil, err
		}
		if p.FindBay(x.Param("id")) == nil {
			return nil, &api.Problem{Kind: api.NotFound, Title: "There is no such bay", Next: "Look it up in the list of bays."}
		}
		return paper.BayWeek(p, x.Param("id"), day)
	})
}

func getLineUp(x *exchange) error {
	return x.sheet(func(p *plant.Plant) ([]byte, error) {
		day, err := x.day(p)
		if err != nil {
			return nil, err
		}
		return paper.LineUp(p, day)
	})
}
