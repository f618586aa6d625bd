package rest

import (
	"wetdown/api"
	"wetdown/solver/plant"
)

// A RouteSeen is a route as tests look at it.
type RouteSeen struct {
	Method, Path, Act, Query string
	Takes                    int64
}

// Routes lists all routes.
func Routes() (list []RouteSeen) {
	for _, r := range routes() {
		list = append(list, RouteSeen{r.method, r.path, r.act, r.query, r.takes})
	}
	return list
}

// WaysOut is what is answered about ways out of p.
func WaysOut(p *plant.Plant, a *api.RepairsAnswer) any { return toRepairs(p, a) }
