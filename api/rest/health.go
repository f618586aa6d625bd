package rest

import (
	"net/http"
	"time"

	"wetdown/api"
)

type wireHealth struct {
	Status string `json:"status"`
}

// getHealth says that the program answers.
func getHealth(x *exchange) error { return x.JSON(http.StatusOK, wireHealth{"ok"}) }

// getReady says whether requests are to be sent here: the database answers, and the
// server does not stop.
func getReady(x *exchange) error {
	not := &api.Problem{Kind: api.Busy, Title: "Not ready", Detail: "The server is stopping.", Next: "Ask another one, or again in a moment.", Wait: 5 * time.Second}
	select {
	case <-x.s.closing:
		return not
	default:
	}
	if x.s.o.Ready != nil {
		if err := x.s.o.Ready(x.Request().Context()); err != nil {
			x.s.o.Log.Error("the database does not answer", "error", err)
			not.Detail = "The database does not answer."
			return not
		}
	}
	return x.JSON(http.StatusOK, wireHealth{"ready"})
}
