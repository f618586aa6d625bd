package rest

import (
	"fmt"
	"net/http"
	"time"

	"wetdown/api"
)

// A wireToken lets a program in.
type wireToken struct {
	Name    string   `json:"name"`
	Maker   string   `json:"maker"`
	Acts    []string `json:"acts"`
	Made    *string  `json:"made"`
	Until   *string  `json:"until"`
	Used    *string  `json:"used"` // day on which it was used last
	Revoked bool     `json:"revoked"`
	Token   string   `json:"token,omitempty"` // shown when it is made, and never again
}

func toToken(t *api.Token) wireToken {
	return wireToken{t.Name, t.Maker, append([]string{}, t.Acts...), loggedTime(t.Made), loggedTime(t.Until), loggedTime(t.Used), t.Revoked, ""}
}

func listTokens(x *exchange) error {
	tokens, err := x.app.Tokens(x.Request().Context(), x.who)
	if err != nil {
		return err
	}
	out := list[wireToken]{Items: []wireToken{}}
	for _, t := range tokens {
		out.Items = append(out.Items, toToken(t))
	}
	return x.JSON(http.StatusOK, out)
}

func postTokens(x *exchange) error {
	var in struct {
		Name  string   `json:"name"`
		Acts  []string `json:"acts"`
		Until string   `json:"until"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	until, err := time.Parse(time.RFC3339, in.Until)
	if err != nil {
		return invalid("until", fmt.Sprintf("%.40q is no time.", in.Until), "Write it as in RFC 3339, such as 2027-01-31T00:00:00Z.")
	}
	t, text, err := x.app.MakeToken(x.Request().Context(), x.who, api.TokenOrder{Name: in.Name, Acts: in.Acts, Until: until})
	if err != nil {
		return err
	}
	w := toToken(t)
	w.Token = text
	return x.created("/tokens/"+t.Name, w)
}

func dropToken(x *exchange) error {
	t, err := x.app.RevokeToken(x.Request().Context(), x.who, x.Param("name"))
	if err != nil {
		return err
	}
	return x.JSON(http.StatusOK, toToken(t))
}
