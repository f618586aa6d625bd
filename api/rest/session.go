package rest

import (
	"errors"
	"net/http"
	"time"

	"wetdown/api"
)

// cookieName is what the cookie of a session is called. Over TLS its name has browsers
// see to it that no other host sets it.
func cookieName(secure bool) string {
	if secure {
		return "__Host-wetdown"
	}
	return "wetdown"
}

// cookie gives a session to the browser; without a token it takes it away.
func (x *exchange) cookie(token string, until time.Time) {
	c := &http.Cookie{Name: cookieName(x.secure), Value: token, Path: "/", HttpOnly: true, Secure: x.secure, SameSite: http.SameSiteLaxMode}
	if token == "" {
		c.MaxAge = -1
	} else {
		c.MaxAge = max(1, int(until.Sub(x.s.o.Clock()).Seconds()))
	}
	x.SetCookie(c)
}

// A wireSession is who has logged in, and what they may do.
type wireSession struct {
	Login string   `json:"login"`
	Acts  []string `json:"acts"`
	Until *string  `json:"until"` // when the session ends at the latest; null for a token
}

func (x *exchange) began(p *api.Pass) error {
	x.cookie(p.Token, p.Until)
	return x.JSON(http.StatusOK, wireSession{p.Who.Name, p.Who.Acts, loggedTime(p.Until)})
}

// often turns the problem with too many attempts into one of this client's.
func often(err error) error {
	var p *api.Problem
	if errors.As(err, &p) && p.Kind == api.Busy {
		return refusal{http.StatusTooManyRequests, p}
	}
	return err
}

func postLogin(x *exchange) error {
	var in struct {
		Login    string `json:"login"`
		Password string `json:"password"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	p, err := x.app.Login(x.Request().Context(), api.LoginOrder{Login: in.Login, Password: in.Password, Remote: x.s.remote(x.Request()), Before: x.token})
	if err != nil {
		return often(err)
	}
	return x.began(p)
}

func postLogout(x *exchange) error {
	if x.token != "" {
		if err := x.app.Logout(x.Request().Context(), x.token); err != nil {
			return err
		}
	}
	x.cookie("", time.Time{})
	return x.NoContent(http.StatusNoContent)
}

func getSession(x *exchange) error {
	return x.JSON(http.StatusOK, wireSession{x.who.Name, x.who.Acts, nil})
}

func putPassword(x *exchange) error {
	var in struct {
		Before string `json:"before"`
		After  string `json:"after"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	p, err := x.app.ChangePassword(x.Request().Context(), x.who, in.Before, in.After, x.s.remote(x.Request()))
	if err != nil {
		return often(err)
	}
	return x.began(p)
}
