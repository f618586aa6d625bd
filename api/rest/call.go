package rest

import (
	"net/http"
	"strconv"

	"wetdown/api"
	"wetdown/api/wire"
)

// A wireCall is a customer to be called.
type wireCall struct {
	ID       string  `json:"id"`
	State    string  `json:"state"`
	Revision int64   `json:"revision"`
	By       *string `json:"by"`
	Overdue  bool    `json:"overdue"`
	Truck    string  `json:"truck"`
	Customer string  `json:"customer"`
	Visit    *string `json:"visit"`
	Heads    int     `json:"heads"`
	About    string  `json:"about"`
	Because  string  `json:"because"`
	Place    int     `json:"place"` // in the list of its revision: whom to call first
	DoneBy   *string `json:"done_by"`
	DoneAt   *string `json:"done_at"`
	Note     string  `json:"note"`
}

func toCall(c *api.Call) wireCall {
	return wireCall{
		c.ID, c.State, c.Revision, wire.Day(c.By), c.Overdue, c.Truck, c.Customer, wire.Text(c.Visit), c.Heads, c.About, c.Because, c.Place,
		wire.Text(c.DoneBy), loggedTime(c.DoneAt), c.Note,
	}
}

func listCalls(x *exchange) error {
	page, err := x.page()
	if err != nil {
		return err
	}
	list, err := x.app.Calls(x.Request().Context(), x.who, x.QueryParam("state"), page)
	if err != nil {
		return err
	}
	return paged(x, "after", list, page.Limit-1, func(c *api.Call) string { return strconv.FormatInt(c.Seq, 10) }, toCall)
}

// tickCall says that a call was made, or was not after all.
func tickCall(x *exchange) error {
	var in struct {
		Done *bool  `json:"done"`
		Note string `json:"note"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	if in.Done == nil {
		return invalid("done", "Whether the call was made is not said.", "Give true or false.")
	}
	c, err := x.app.TickCall(x.Request().Context(), x.who, x.Param("id"), *in.Done, in.Note)
	if err != nil {
		return err
	}
	return x.JSON(http.StatusOK, toCall(c))
}
