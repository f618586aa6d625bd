package web

import (
	"net/http"
	"net/url"
	"strings"

	"wetdown/api"
)

// start sends everybody to the page that is theirs.
func (w *Web) start(v *view) error {
	switch {
	case v.State == nil:
		return v.back("/setup")
	case v.Who.May(api.ActBook):
		return v.back("/floor")
	case v.Who.May(api.ActQuote):
		return v.back("/quotes")
	}
	return v.back("/floor")
}

type loginData struct {
	To, Login string
}

func (w *Web) loginPage(v *view) error {
	v.Title = "Log in"
	v.Data = loginData{To: v.r.URL.Query().Get("to")}
	v.show(http.StatusOK, "login")
	return nil
}

func (w *Web) login(v *view) error {
	login := v.r.PostFormValue("login")
	if err := w.door.Enter(v.w, v.r, login, v.r.PostFormValue("password")); err != nil {
		v.Said = api.AsProblem(err)
		v.Title = "Log in"
		v.Data = loginData{To: v.r.PostFormValue("to"), Login: login}
		v.show(statusOf(v.Said.Kind), "login")
		return nil
	}
	return v.back(inside(v.r.PostFormValue("to")))
}

// inside is an address of this service, the start where another one was sent.
func inside(to string) string {
	u, err := url.Parse(to)
	if err != nil || u.IsAbs() || u.Host != "" || !strings.HasPrefix(u.Path, "/") || strings.HasPrefix(to, "//") || strings.Contains(to, `\`) || u.Path == "/login" {
		return "/"
	}
	return to
}

func (w *Web) logout(v *view) error {
	w.door.Leave(v.w, v.r)
	return v.back("/login")
}
