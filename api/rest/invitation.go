package rest

import (
	"net/http"

	"wetdown/api"
	"wetdown/api/wire"
)

// A wireInvitation is where things stand with the mail about one visit.
type wireInvitation struct {
	Visit    string  `json:"visit"`
	Truck    string  `json:"truck"`
	Customer string  `json:"customer"`
	State    string  `json:"state"`
	Method   *string `json:"method"` // of the message that waits
	Sequence int     `json:"sequence"`
	Start    *string `json:"start"`
	Seen     *string `json:"seen"` // to be given back when it is released
	Summary  string  `json:"summary"`
	SentAt   *string `json:"sent_at"`
	Next     *string `json:"next"` // when it is tried again
	Attempts int     `json:"attempts"`
	Problem  *string `json:"problem"`
}

func toInvitation(v *api.Invitation) wireInvitation {
	return wireInvitation{
		v.Visit, v.Truck, v.Customer, v.State, wire.Text(v.Method), v.Sequence, wire.Moment(v.Start), wire.Text(v.Seen), v.Summary,
		loggedTime(v.SentAt), loggedTime(v.Next), v.Attempts, wire.Text(v.Problem),
	}
}

func listInvitations(x *exchange) error {
	invitations, err := x.app.Invitations(x.Request().Context(), x.who)
	if err != nil {
		return err
	}
	return x.JSON(http.StatusOK, list[wireInvitation]{wire.Each(invitations, toInvitation)})
}

const calendarType = "text/calendar; charset=utf-8"

// getInvitation gives the invitation to a visit as a file for calendars.
func getInvitation(x *exchange) error {
	text, err := x.app.Invitation(x.Request().Context(), x.who, x.Param("id"))
	if err != nil {
		return err
	}
	return x.file("invitation.ics", calendarType, text)
}

// file answers with a file that browsers save.
func (x *exchange) file(name, of string, data []byte) error {
	x.Response().Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	return x.Blob(http.StatusOK, of, data)
}

// releaseInvitation lets the message about a visit go out.
func releaseInvitation(x *exchange) error {
	var in struct {
		Seen string `json:"seen"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	v, err := x.app.ReleaseInvitation(x.Request().Context(), x.who, x.Param("id"), in.Seen)
	if err != nil {
		return err
	}
	return x.JSON(http.StatusOK, toInvitation(v))
}
