package web

import (
	"net/http"

	"wetdown/api"
)

func (w *Web) settings(v *view) error {
	set, err := w.app.Settings(v.ctx, v.Who)
	if err != nil {
		return err
	}
	v.setUp("What happens by itself", set)
	v.show(http.StatusOK, "settings")
	return nil
}

func (w *Web) setSettings(v *view) error {
	set := api.Settings{AutoAccept: v.r.PostFormValue("accept") != "", AutoInvite: v.r.PostFormValue("invite") != ""}
	if err := w.app.SetSettings(v.ctx, v.Who, set); err != nil {
		v.setUp("What happens by itself", set)
		return v.again(err, "settings")
	}
	return v.back("/setup/settings")
}
