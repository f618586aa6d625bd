package web

import (
	"cmp"
	"net/http"
	"slices"

	"wetdown/api"
)

type callsData struct {
	Open, Done []*api.Call
}

// calls is whom to call, about what, by when, the most urgent first.
func (w *Web) calls(v *view) error {
	open, err := w.app.Calls(v.ctx, v.Who, api.CallOpen, api.Page{})
	if err != nil {
		return err
	}
	done, err := w.app.Calls(v.ctx, v.Who, api.CallDone, api.Page{})
	if err != nil {
		return err
	}
	slices.SortStableFunc(open, func(x, y *api.Call) int { return cmp.Or(cmp.Compare(x.By, y.By), cmp.Compare(x.Place, y.Place)) })
	slices.SortStableFunc(done, func(x, y *api.Call) int { return y.DoneAt.Compare(x.DoneAt) })
	v.Title, v.Place, v.Data = "Calls", "calls", callsData{open, done[:min(len(done), 50)]}
	v.show(http.StatusOK, "calls")
	return nil
}

func (w *Web) tick(v *view) error {
	if _, err := w.app.TickCall(v.ctx, v.Who, v.r.PathValue("id"), v.r.PostFormValue("done") != "", v.r.PostFormValue("note")); err != nil {
		return err
	}
	return v.back("/calls")
}
