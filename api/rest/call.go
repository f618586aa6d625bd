package rest

import (
	"net/http"
	"strconv"

	"wetdown/api"
	"wetdown/api/wire"
)

// A wireCall is a customer to be called.
type wireCall struct {
	ID       string    `json:"id"`
	State    string    `json:"state"`
	Revision int64     `json:"revision"`
	By       *string   `json:"by"`
	Overdue  bool      `json:"overdue"`
	Truck    string    `json:"truck"`
	Customer string    `json:"customer"`
	Visit    *string   `json:"visit"`
	Heads    int       `json:"heads"`
	About    string    `json:"about"`
	Because  string    `json:"because"`
	Place    int       `json:"place"` // in the list of its revision: whom to call first
	DoneBy   *string   `json:"done_by"`
	DoneAt   *string   `json:"done_at"`
	Note     string    `json:"note"`
	Again    *string   `json:"again"` // when to call once more
	Tries    []wireTry `json:"tries"`
}

// A wireTry is a call after which it has to be called again.
type wireTry struct {
	Who   string  `json:"who"`
	At    *string `json:"at"`
	Again *string `json:"again"`
	Note  string  `json:"note"`
}

// A wireScript is the words for a call.
type wireScript struct {
	Says  []string `json:"says"`
	Asks  []string `json:"asks"`
	Know  []string `json:"know"`
	Moved *string  `json:"moved"`
}

func toCall(c *api.Call) wireCall {
	return wireCall{
		c.ID, c.State, c.Revision, wire.Day(c.By), c.Overdue, c.Truck, c.Customer, wire.Text(c.Visit), c.Heads, c.About, c.Because, c.Place,
		wire.Text(c.DoneBy), loggedTime(c.DoneAt), c.Note, wire.Day(c.Again()),
		wire.Each(c.Tries, func(t api.Try) wireTry { return wireTry{t.Who, loggedTime(t.At), wire.Day(t.Again), t.Note} }),
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

// getCall is one call with the words for it.
func getCall(x *exchange) error {
	c, s, err := x.app.Call(x.Request().Context(), x.who, x.Param("id"))
	if err != nil {
		return err
	}
	return x.JSON(http.StatusOK, struct {
		Call   wireCall   `json:"call"`
		Script wireScript `json:"script"`
	}{toCall(c), wireScript{wire.Texts(s.Says), wire.Texts(s.Asks), wire.Texts(s.Know), wire.Text(s.Moved)}})
}

// callAgain says that nothing is agreed yet, and when to call again.
func callAgain(x *exchange) error {
	var in struct {
		Day  string `json:"day"`
		Note string `json:"note"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	day, err := aDay("day", in.Day)
	if err != nil {
		return err
	}
	c, err := x.app.CallAgain(x.Request().Context(), x.who, x.Param("id"), day, in.Note)
	if err != nil {
		return err
	}
	return x.JSON(http.StatusOK, toCall(c))
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
