package rest

import (
	"errors"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"wetdown/api"
)

// Entity tags are the number of the revision in which a thing last changed.

// tag writes the tag of a revision.
func tag(revision int64) string { return fmt.Sprintf(`"%d"`, revision) }

// asYAML ends the tag of what is given as YAML, which is not what is given as JSON, byte
// by byte.
const asYAML = ".yaml"

// current sets the tag of the answer, and reports whether the asker has that answer
// already.
func (x *exchange) current(revision int64) (has bool) { return x.tagged(tag(revision)) }

func (x *exchange) tagged(t string) (has bool) {
	x.Response().Header().Set("ETag", t)
	for _, known := range strings.Split(x.Request().Header.Get("If-None-Match"), ",") {
		if known = strings.TrimSpace(known); known == "*" || strings.TrimPrefix(known, "W/") == t {
			return true
		}
	}
	return false
}

// unchanged answers that nothing has changed.
func (x *exchange) unchanged() error { return x.NoContent(http.StatusNotModified) }

// intent is what a change says of itself: why, and what it was made of.
func (x *exchange) intent(key string) (i api.Intent, err error) {
	i.Why = x.QueryParam("why")
	if text := strings.TrimSpace(x.Request().Header.Get("If-Match")); text != "" {
		if text == "*" {
			if _, err := x.app.Thing(x.Request().Context(), api.Service, key); key != api.Whole && err != nil {
				return i, gone(err)
			}
			return i, nil
		}
		revision, err := strconv.ParseInt(strings.TrimSuffix(strings.Trim(text, `"`), asYAML), 10, 64)
		if err != nil || len(text) < 3 || text[0] != '"' || text[len(text)-1] != '"' {
			return i, invalid("If-Match", fmt.Sprintf("%.40q is no ETag of this service.", text), "Send the ETag as it came, with its quotes, or * for whatever it is.")
		}
		i.Expect = api.Expectation{Key: key, Revision: revision}
		return i, nil
	}
	if strings.TrimSpace(x.Request().Header.Get("If-None-Match")) == "*" {
		i.Expect, err = x.absent(key)
	}
	return i, err
}

// absent expects that a thing is not there.
func (x *exchange) absent(key string) (e api.Expectation, err error) {
	versions, err := x.app.History(x.Request().Context(), api.Service, key)
	if p := (*api.Problem)(nil); errors.As(err, &p) && p.Kind == api.NotFound {
		return api.Expectation{Key: key}, nil
	}
	if err != nil {
		return e, err
	}
	last := versions[len(versions)-1]
	if last.Text != "" {
		return e, &api.Problem{Kind: api.Stale, Title: "It is there already", Detail: fmt.Sprintf("Revision %d has it.", last.Revision), Next: "Look at it, and change it with If-Match, or take another name."}
	}
	return api.Expectation{Key: key, Revision: last.Revision}, nil
}

// gone is the problem with a thing that was expected and is not there.
func gone(err error) error {
	if p := api.AsProblem(err); p.Kind == api.NotFound {
		return &api.Problem{Kind: api.Stale, Title: "It is not there any more", Detail: p.Detail, Next: p.Next}
	}
	return err
}

func sortedKeys(q url.Values) []string { return slices.Sorted(maps.Keys(q)) }

func knows(list, name string) bool { return slices.Contains(strings.Fields(list), name) }
