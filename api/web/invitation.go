package web

import (
	"cmp"
	"net/http"
	"slices"

	"wetdown/api"
)

// An inviteRow is where things stand with the mail about one visit.
type inviteRow struct {
	*api.Invitation
	Customer string // its name
	Contact  bool   // there is somebody to write to
	Waits    bool   // a person may release it
}

// turn orders rows: what a person can release now, what lacks a contact, the rest.
func (r inviteRow) turn() int {
	switch {
	case r.Waits:
		return 0
	case !r.Contact:
		return 1
	}
	return 2
}

type invitationsData struct {
	List []inviteRow
	Auto bool // nobody has to release
	May  bool
}

func (v *view) invitationsPage() error {
	list, err := v.app.Invitations(v.ctx, v.Who)
	if err != nil {
		return err
	}
	set, err := v.app.Settings(v.ctx, v.Who)
	if err != nil {
		return err
	}
	d := invitationsData{Auto: set.AutoInvite, May: v.Who.May(api.ActBook)}
	for _, x := range list {
		r := inviteRow{Invitation: x, Customer: x.Customer, Contact: x.State != api.InvitationNobody, Waits: x.State == api.InvitationHeld || x.State == api.InvitationRefused}
		if v.State != nil {
			if c := v.State.Plant.FindCustomer(x.Customer); c != nil {
				r.Customer = cmp.Or(c.Name, c.ID)
			}
		}
		d.List = append(d.List, r)
	}
	slices.SortStableFunc(d.List, func(x, y inviteRow) int { return cmp.Compare(x.turn(), y.turn()) })
	v.setUp("Invitations", d)
	return nil
}

func (w *Web) invitations(v *view) error {
	if err := v.invitationsPage(); err != nil {
		return err
	}
	v.show(http.StatusOK, "invitations")
	return nil
}

// releaseInvitation lets out the message that the page has shown.
func (w *Web) releaseInvitation(v *view) error {
	seen := v.r.PostFormValue("seen")
	if seen == "" {
		return &api.Problem{Kind: api.Invalid, Title: "Nobody has looked at this message", Next: "Release it in the list of invitations, where it can be seen."}
	}
	if _, err := w.app.ReleaseInvitation(v.ctx, v.Who, v.r.PathValue("visit"), seen); err != nil {
		if fault := v.invitationsPage(); fault != nil {
			return fault
		}
		return v.again(err, "invitations")
	}
	return v.back("/setup/invitations")
}
