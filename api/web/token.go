package web

import (
	"net/http"
	"slices"
	"strings"

	"wetdown/api"
	"wetdown/calendar"
)

type tokensData struct {
	List  []*api.Token
	Made  *api.Token // just now
	Text  string     // of it, shown this once
	Name  string     // what was typed
	Acts  []string
	Until string
}

// Has reports whether an act was ticked.
func (d tokensData) Has(act string) bool { return slices.Contains(d.Acts, act) }

func (v *view) tokensPage(d tokensData) error {
	list, err := v.app.Tokens(v.ctx, v.Who)
	if err != nil {
		return err
	}
	d.List = list
	v.setUp("Tokens", d)
	return nil
}

func (w *Web) tokens(v *view) error {
	if err := v.tokensPage(tokensData{Acts: []string{api.ActRead}}); err != nil {
		return err
	}
	v.show(http.StatusOK, "tokens")
	return nil
}

// makeToken makes a token and shows it. It is kept nowhere, so the page cannot be shown
// again.
func (w *Web) makeToken(v *view) error {
	if err := v.r.ParseForm(); err != nil {
		return &api.Problem{Kind: api.Invalid, Title: "The form cannot be read", Next: "Fill it in once more."}
	}
	d := tokensData{Name: v.r.PostFormValue("name"), Acts: v.r.PostForm["act"], Until: v.r.PostFormValue("until")}
	last, err := v.date("until")
	if err == nil && last == calendar.None {
		err = &api.Problem{Kind: api.Invalid, Title: "Until when?", Detail: "A token needs an end.", Next: "Give its last day, a year from now at the most."}
	}
	if err == nil {
		var made *api.Token
		var text string
		made, text, err = w.app.MakeToken(v.ctx, v.Who, api.TokenOrder{Name: d.Name, Acts: d.Acts, Until: v.midnight(last + 1)})
		if err == nil {
			d = tokensData{Made: made, Text: text, Acts: []string{api.ActRead}}
		}
	}
	if fault := v.tokensPage(d); fault != nil {
		return fault
	}
	if err != nil {
		return v.again(err, "tokens")
	}
	v.show(http.StatusOK, "tokens")
	return nil
}

// revokeToken asks before it takes a token away: it can be brought back by nobody.
func (w *Web) revokeToken(v *view) error {
	name := v.r.PathValue("name")
	if v.r.PostFormValue("do") != "revoke-sure" {
		list, err := w.app.Tokens(v.ctx, v.Who)
		if err != nil {
			return err
		}
		if at := slices.IndexFunc(list, func(t *api.Token) bool { return t.Name == name && !t.Revoked }); at >= 0 {
			return v.askRevoke(list[at])
		}
	}
	if _, err := w.app.RevokeToken(v.ctx, v.Who, name); err != nil {
		if fault := v.tokensPage(tokensData{}); fault != nil {
			return fault
		}
		return v.again(err, "tokens")
	}
	return v.back("/setup/tokens")
}

// askRevoke says what would stop working without a token.
func (v *view) askRevoke(t *api.Token) error {
	used := "It has never been used."
	if !t.Used.IsZero() {
		used = "It was used last on " + v.Style.Full(v.UTCDay(t.Used)) + "."
	}
	var acts []string
	for _, a := range t.Acts {
		acts = append(acts, plainWord(a))
	}
	return v.sure("Revoke the token "+t.Name+"?", sureData{
		Does: []string{
			"The program that has it is let in no more, from its next request on. It may: " + strings.Join(acts, ", ") + ".",
			used + " The name " + t.Name + " stays taken, since the trail tells of it.",
		},
		Rather: "If the program is to go on, make it another token first, and give it that one.",
		To:     "/setup/tokens/" + t.Name + "/revoke", Do: "revoke-sure", Button: "Revoke it", Back: "/setup/tokens",
	})
}
