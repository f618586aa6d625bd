package web

import (
	"net/http"
	"slices"
	"strconv"

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
		return w.sureWebhook(v, id)
	case "drop-sure":
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

// sureWebhook says what deleting a webhook would do.
func (w *Web) sureWebhook(v *view, id string) error {
	list, err := w.app.Webhooks(v.ctx, v.Who)
	if err != nil {
		return err
	}
	at := slices.IndexFunc(list, func(x *api.Webhook) bool { return x.ID == id })
	if at < 0 {
		return &api.Problem{Kind: api.NotFound, Title: "There is no such webhook", Detail: "Somebody may have deleted it.", Next: "Look at the list of webhooks."}
	}
	x := list[at]
	d := sureData{
		Does: []string{
			x.URL + " is told of nothing any more.",
			"Its secret is gone. If the program is to be told again, a new webhook gets a new secret, and that has to be brought to the program.",
		},
		To: "/setup/webhooks/" + x.ID, Do: "drop-sure", Button: "Delete the webhook", Back: "/setup/webhooks",
	}
	if v.State != nil && x.Revision < v.State.Revision.Number {
		d.Does = append(d.Does, "What it was not told yet it never will be: "+count(int(v.State.Revision.Number-x.Revision), "revision")+", those after "+strconv.FormatInt(x.Revision, 10)+".")
	}
	if x.State == api.WebhookActive {
		d.Rather = "Pause it if it is only to be quiet for a while: then it can go on where it stopped."
	}
	return v.sure("Delete a webhook?", d)
}
