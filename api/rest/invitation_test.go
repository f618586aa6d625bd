package rest_test

import (
	"strings"
	"testing"

	"wetdown/api"
	"wetdown/api/rest"
)

// TestInvitation_NoSender asks for the file of a visit where nobody said as whom the plant
// writes: there is one all the same, in which nobody is asked to answer. RFC 5546 3.2.1 wants
// METHOD:PUBLISH with exactly one ORGANIZER and without ATTENDEE; TestVisit_Published of
// package ical has it read by others.
func TestInvitation_NoSender(t *testing.T) {
	h := settled(t, rest.Options{})
	coordinator := h.as(api.RoleCoordinator)
	coordinator.send("PUT", "/contacts/C1", map[string]any{"name": "A. Chief", "mail": "chief@fire.example"}).want(200)
	lines := func(a *answer, begins string) (list []string) {
		for _, l := range strings.Split(string(a.want(200).body), "\r\n") {
			if strings.HasPrefix(l, begins) {
				list = append(list, l)
			}
		}
		return list
	}
	asked := coordinator.get("/visits/V1/invitation.ics")
	if m, a := lines(asked, "METHOD"), lines(asked, "ATTENDEE"); len(m) != 1 || m[0] != "METHOD:REQUEST" || len(a) != 1 {
		t.Errorf("with a sender: %q, %q", m, a)
	}
	h.app.InviteAs(api.Inviter{})
	told := coordinator.get("/visits/V1/invitation.ics")
	if m := lines(told, "METHOD"); len(m) != 1 || m[0] != "METHOD:PUBLISH" {
		t.Errorf("without a sender: %q", m)
	}
	if o, a := lines(told, "ORGANIZER"), lines(told, "ATTENDEE"); len(o) != 1 || !strings.HasSuffix(o[0], "mailto:nobody@wetdown.invalid") || len(a) != 0 {
		t.Errorf("without a sender: organizer %q, attendees %q", o, a)
	}
	if s := lines(told, "DTSTART;"); len(s) != 1 || s[0] != "DTSTART;TZID=America/Chicago:20270527T070000" {
		t.Errorf("the visit begins at %q", s)
	}
	// Nothing is mailed, and nothing waits to be.
	if got := coordinator.get("/invitations").want(200); got.count("items") != 0 {
		t.Errorf("invitations without a sender: %s", got.body)
	}
	if got := coordinator.post("/visits/V1/invitation/release", map[string]any{}).refused(409, "conflict"); !strings.Contains(got.text("next"), "sender") {
		t.Errorf("released without a sender: %s", got.body)
	}
	// Nobody was promised a day for this one.
	coordinator.get("/visits/V3/invitation.ics").refused(409, "conflict")
}
