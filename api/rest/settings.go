package rest

import (
	"net/http"

	"wetdown/api"
)

// wireSettings are those of the service, beside the plant itself.
type wireSettings struct {
	AutoAccept bool `json:"auto_accept"` // proposals that touch no confirmed visit are accepted at once
	AutoInvite bool `json:"auto_invite"` // invitations are mailed without a person releasing each
}

func getSettings(x *exchange) error {
	s, err := x.app.Settings(x.Request().Context(), x.who)
	if err != nil {
		return err
	}
	return x.JSON(http.StatusOK, wireSettings{s.AutoAccept, s.AutoInvite})
}

func putSettings(x *exchange) error {
	var in struct {
		AutoAccept *bool `json:"auto_accept"`
		AutoInvite *bool `json:"auto_invite"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	if in.AutoAccept == nil || in.AutoInvite == nil {
		return invalid("auto_accept", "A setting is missing.", "Give auto_accept and auto_invite, each true or false.")
	}
	s := api.Settings{AutoAccept: *in.AutoAccept, AutoInvite: *in.AutoInvite}
	if err := x.app.SetSettings(x.Request().Context(), x.who, s); err != nil {
		return err
	}
	return x.JSON(http.StatusOK, wireSettings{s.AutoAccept, s.AutoInvite})
}
