package rest

import (
	"context"
	"fmt"
	"net/http"

	"wetdown/api"
	"wetdown/api/wire"
)

// A wireReadiness is how likely the promises of one revision of the plant are kept.
type wireReadiness struct {
	Plant   int64       `json:"plant_revision"`  // that was simulated
	Newest  int64       `json:"newest_revision"` // of the plant, now
	Current bool        `json:"current"`         // the two are the same; else newer chances are on their way
	At      *string     `json:"at"`
	Program string      `json:"program"`
	Told    []wireAlert `json:"told"` // visits that are not safe, and what the coordinator was told
	wire.Readiness
}

// A wireAlert is a visit that is not safe.
type wireAlert struct {
	Visit string  `json:"visit"`
	Date  *string `json:"date"`
	Since int64   `json:"since"` // revision of the plant in which that was seen first
	Call  *string `json:"call"`  // that tells of it
}

func toReadiness(r *api.Readiness) wireReadiness {
	return wireReadiness{
		Plant: r.Revision, Newest: r.Newest, Current: r.Revision == r.Newest, At: loggedTime(r.At), Program: r.Program, Readiness: wire.ToReadiness(r.Odds),
		Told: wire.Each(r.Unsafe, func(u api.UnsafeVisit) wireAlert {
			return wireAlert{u.Visit, wire.Day(u.Day), u.Since, wire.Text(u.Call)}
		}),
	}
}

// getReadiness gives the chances that were worked out last. Who prefers to wait is given
// those of the newest revision, if they come in time.
func getReadiness(x *exchange) error {
	wait, err := x.prefers()
	if err != nil {
		return err
	}
	ctx := x.Request().Context()
	r, err := x.app.Readiness(ctx, x.who, false)
	if err == nil && wait > 0 && r.Revision != r.Newest {
		within, cancel := context.WithTimeout(ctx, wait)
		defer cancel()
		fresh, failed := x.app.Readiness(within, x.who, true)
		switch {
		case failed == nil:
			r = fresh
		case within.Err() == nil || ctx.Err() != nil:
			err = failed
		}
	}
	if err != nil {
		return err
	}
	if x.tagged(fmt.Sprintf(`"%d.%d.%d"`, r.Revision, r.Table, r.Newest)) {
		return x.unchanged()
	}
	return x.JSON(http.StatusOK, toReadiness(r))
}
