package rest

import (
	"net/http"

	"wetdown/api"
	"wetdown/api/wire"
)

// A wireWebhook is a program elsewhere that is told of changes.
type wireWebhook struct {
	ID          string   `json:"id"`
	State       string   `json:"state"`
	URL         string   `json:"url"`
	Events      []string `json:"events"`
	Who         string   `json:"who"`
	At          *string  `json:"at"`
	Revision    int64    `json:"revision"` // of whose changes all was delivered
	Delivered   int64    `json:"delivered"`
	DeliveredAt *string  `json:"delivered_at"`
	Attempts    int      `json:"attempts"` // to deliver what is next
	Problem     *string  `json:"problem"`
	Secret      string   `json:"secret,omitempty"` // shown when it is made, and never again
}

func toWebhook(h *api.Webhook) wireWebhook {
	return wireWebhook{
		h.ID, h.State, h.URL, wire.Texts(h.Events), h.Who, loggedTime(h.At), h.Revision, h.Delivered, loggedTime(h.DeliveredAt), h.Attempts, wire.Text(h.Problem), h.Secret,
	}
}

func listWebhooks(x *exchange) error {
	hooks, err := x.app.Webhooks(x.Request().Context(), x.who)
	if err != nil {
		return err
	}
	return x.JSON(http.StatusOK, list[wireWebhook]{wire.Each(hooks, toWebhook)})
}

func postWebhooks(x *exchange) error {
	var in struct {
		URL    string   `json:"url"`
		Events []string `json:"events"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	h, err := x.app.AddWebhook(x.Request().Context(), x.who, in.URL, in.Events)
	if err != nil {
		return err
	}
	return x.created("/webhooks/"+h.ID, toWebhook(h))
}

func pauseWebhook(x *exchange) error {
	return x.webhook(x.app.PauseWebhook(x.Request().Context(), x.who, x.Param("id")))
}

func resumeWebhook(x *exchange) error {
	var in struct {
		Skip bool `json:"skip"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	return x.webhook(x.app.ResumeWebhook(x.Request().Context(), x.who, x.Param("id"), in.Skip))
}

func (x *exchange) webhook(h *api.Webhook, err error) error {
	if err != nil {
		return err
	}
	return x.JSON(http.StatusOK, toWebhook(h))
}

func dropWebhook(x *exchange) error {
	return x.nothing(x.app.DropWebhook(x.Request().Context(), x.who, x.Param("id")))
}

// nothing answers that something was done of which there is no more to say.
func (x *exchange) nothing(err error) error {
	if err != nil {
		return err
	}
	return x.NoContent(http.StatusNoContent)
}
