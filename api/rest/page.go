package rest

import (
	"fmt"
	"net/url"
	"strconv"

	"wetdown/api"
)

// How many things a list gives at once.
const (
	pageLimit = 100
	pageMost  = 500
)

// A list of things. Where it goes on, the header Link says so (RFC 8288).
type list[T any] struct {
	Items []T `json:"items"`
}

// limit is how many things are asked for.
func (x *exchange) limit() (int, error) {
	text := x.QueryParam("limit")
	if text == "" {
		return pageLimit, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 || n > pageMost {
		return 0, invalid("limit", fmt.Sprintf("%.20q is no number of things.", text), fmt.Sprintf("Give a number from 1 to %d.", pageMost))
	}
	return n, nil
}

// number reads a number out of the query, 0 when it is not there.
func (x *exchange) number(name string) (int64, error) {
	text := x.QueryParam(name)
	if text == "" {
		return 0, nil
	}
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n < 0 {
		return 0, invalid(name, fmt.Sprintf("%.20q is no number.", text), "Take the address in the header Link, or leave it out.")
	}
	return n, nil
}

// page is the part of a list that is asked for, and one thing more, by which it is known
// whether the list goes on.
func (x *exchange) page() (api.Page, error) {
	limit, err := x.limit()
	if err != nil {
		return api.Page{}, err
	}
	newest := false
	switch order := x.QueryParam("order"); order {
	case "", "oldest":
	case "newest":
		newest = true
	default:
		return api.Page{}, invalid("order", fmt.Sprintf("%.20q is no order of a list.", order), "Write newest or oldest, by what comes first; oldest if it is left out.")
	}
	after, err := x.number("after")
	return api.Page{After: after, Newest: newest, Limit: limit + 1}, err
}

// paged answers with a list that was asked for with one thing more than wanted. cursor is
// what a thing is known by to the query parameter.
func paged[T, W any](x *exchange, parameter string, items []T, limit int, cursor func(T) string, to func(T) W) error {
	out := list[W]{Items: []W{}}
	for i, item := range items {
		if i == limit {
			q := x.QueryParams()
			q.Set(parameter, cursor(items[i-1]))
			next := url.URL{Path: x.Request().URL.Path, RawQuery: q.Encode()}
			x.Response().Header().Set("Link", "<"+next.String()+`>; rel="next"`)
			break
		}
		out.Items = append(out.Items, to(item))
	}
	return x.JSON(200, out)
}

// query refuses parameters that a route does not know: a filter that is misspelt would
// be taken for none.
func (x *exchange) query() error {
	for _, name := range sortedKeys(x.QueryParams()) {
		if !knows(x.route.query, name) {
			return invalid(name, fmt.Sprintf("There is no parameter %.40q here.", name), "See /openapi.json for what there is.")
		}
		if len(x.QueryParams()[name]) > 1 {
			return invalid(name, fmt.Sprintf("The parameter %.40q is there twice.", name), "Give it once.")
		}
	}
	return nil
}
