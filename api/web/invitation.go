package web

import (
	"cmp"
	"net/http"

	"wetdown/api"
)

// An inviteRow is where things stand with the mail about one visit.
type inviteRow struct {
	*api.Invitation
	Customer string // its name
	Contact  bool   // there is somebody to write to
	Waits    bool   // a person may release it
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
	// What waits for a person comes first.
	for _, first := range []bool{true, false} {
		for _, x := range list {
			waits := x.State == api.InvitationHeld || x.State == api.InvitationRefused || x.State == api.InvitationNobody
			if waits != first {
				continue
			}
			r := inviteRow{Invitation: x, Customer: x.Customer, Contact: x.State != api.InvitationNobody, Waits: waits && x.State != api.InvitationNobody}
			if v.State != nil {
				if c := v.State.Plant.FindCustomer(x.Customer); c != nil {
					r.Customer = cmp.Or(c.Name, c.ID)
				}
			}
			d.List = append(d.List, r)
		}
	}
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
