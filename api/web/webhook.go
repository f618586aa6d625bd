package web

import (
	"net/http"
	"slices"

	"wetdown/api"
)

type webhooksData struct {
	List   []*api.Webhook
	News   []string
	Newest int64        // revision
	Made   *api.Webhook // just now, with its secret
	URL    string       // what was typed
	Events []string
}

// Has reports whether a sort of news was ticked.
func (d webhooksData) Has(event string) bool { return slices.Contains(d.Events, event) }

// newsWords are what a webhook can tell of, for people.
var newsWords = map[string]string{
	api.NewsPlanAccepted:   "a plan is accepted",
	api.NewsBookingChanged: "a booking changes",
	api.NewsSlipReported:   "a slip is reported",
	api.NewsRevisionUndone: "a revision is taken back",
}

// Tells is a sort of news, for people.
func (webhooksData) Tells(event string) string { return newsWords[event] }

func (v *view) webhooksPage(d webhooksData) error {
	list, err := v.app.Webhooks(v.ctx, v.Who)
	if err != nil {
		return err
	}
	d.List, d.News = list, api.News()
	if v.State != nil {
		d.Newest = v.State.Revision.Number
	}
	v.setUp("Webhooks", d)
	return nil
}

func (w *Web) webhooks(v *view) error {
	if err := v.webhooksPage(webhooksData{Events: api.News()}); err != nil {
		return err
	}
	v.show(http.StatusOK, "webhooks")
	return nil
}

// addWebhook makes a webhook, and shows its secret this once.
func (w *Web) addWebhook(v *view) error {
	if err := v.r.ParseForm(); err != nil {
		return &api.Problem{Kind: api.Invalid, Title: "The form cannot be read", Next: "Fill it in once more."}
	}
	d := webhooksData{URL: v.r.PostFormValue("url"), Events: v.r.PostForm["event"]}
	made, err := w.app.AddWebhook(v.ctx, v.Who, d.URL, d.Events)
	if err == nil {
		d = webhooksData{Made: made, Events: api.News()}
	}
	if fault := v.webhooksPage(d); fault != nil {
		return fault
	}
	if err != nil {
		return v.again(err, "webhooks")
	}
	v.show(http.StatusOK, "webhooks")
	return nil
}

// changeWebhook does with a webhook what the button says.
func (w *Web) changeWebhook(v *view) error {
	id, err := v.r.PathValue("id"), error(nil)
	switch v.r.PostFormValue("do") {
	case "pause":
		_, err = w.app.PauseWebhook(v.ctx, v.Who, id)
	case "resume":
		_, err = w.app.ResumeWebhook(v.ctx, v.Who, id, false)
	case "skip":
		_, err = w.app.ResumeWebhook(v.ctx, v.Who, id, true)
	case "drop":
		err = w.app.DropWebhook(v.ctx, v.Who, id)
	default:
		err = &api.Problem{Kind: api.Invalid, Title: "What is to be done?", Next: "Use one of the buttons of the page."}
	}
	if err != nil {
		if fault := v.webhooksPage(webhooksData{Events: api.News()}); fault != nil {
			return fault
		}
		return v.again(err, "webhooks")
	}
	return v.back("/setup/webhooks")
}
