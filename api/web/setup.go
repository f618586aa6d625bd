package web

import (
	"net/http"
	"strings"

	"wetdown/api"
	"wetdown/solver/plant"
)

// setupPages is the table of the pages on which the plant and the service are set up.
func (w *Web) setupPages() []page {
	return []page{
		{"GET /setup", api.ActRead, w.setup},
		{"GET /setup/plant", api.ActRead, w.plant},
		{"GET /setup/plant.yaml", api.ActRead, w.givePlant},
		{"POST /setup/plant", api.ActSetUp, w.loadPlant},
		{"GET /setup/files", api.ActRead, w.files},
		{"POST /setup/files/preview", api.ActReport, w.previewFile},
		{"POST /setup/files", api.ActReport, w.takeFile},
		{"GET /setup/people", api.ActManage, w.people},
		{"POST /setup/people", api.ActManage, w.addPerson},
		{"GET /setup/people/{login}", api.ActManage, w.person},
		{"POST /setup/people/{login}", api.ActManage, w.changePerson},
		{"GET /setup/tokens", api.ActRead, w.tokens},
		{"POST /setup/tokens", api.ActRead, w.makeToken},
		{"POST /setup/tokens/{name}/revoke", api.ActRead, w.revokeToken},
		{"GET /setup/password", api.ActRead, w.passwordPage},
		{"POST /setup/password", api.ActRead, w.changePassword},
		{"GET /setup/trail", api.ActManage, w.trail},
		{"GET /setup/invitations", api.ActRead, w.invitations},
		{"POST /setup/invitations/{visit}", api.ActBook, w.releaseInvitation},
		{"GET /setup/contacts", api.ActBook, w.contacts},
		{"GET /setup/contacts/{customer}", api.ActBook, w.contact},
		{"POST /setup/contacts/{customer}", api.ActBook, w.setContact},
		{"GET /setup/feeds", api.ActBook, w.feeds},
		{"POST /setup/feeds", api.ActBook, w.addFeed},
		{"POST /setup/feeds/{id}", api.ActBook, w.revokeFeed},
		{"GET /setup/webhooks", api.ActSetUp, w.webhooks},
		{"POST /setup/webhooks", api.ActSetUp, w.addWebhook},
		{"POST /setup/webhooks/{id}", api.ActSetUp, w.changeWebhook},
		{"GET /setup/settings", api.ActRead, w.settings},
		{"POST /setup/settings", api.ActSetUp, w.setSettings},
		{"GET /setup/{noun}", api.ActRead, w.nouns},
		{"POST /setup/{noun}", api.ActBook, w.changeNoun},
		{"GET /setup/{noun}/{id}", api.ActRead, w.noun},
		{"POST /setup/{noun}/{id}", api.ActBook, w.changeNoun},
	}
}

// bare reports whether a page is there before the plant is.
func (p page) bare() bool {
	_, path, _ := strings.Cut(p.pattern, " ")
	return p.act == "" || path == "/{$}" || path == "/setup" || strings.HasPrefix(path, "/setup/")
}

// A setupGroup is what belongs together in setting up.
type setupGroup struct {
	Name  string
	Links []setupLink
}

type setupLink struct{ Name, To, Says string }

type setupData struct {
	Groups []setupGroup
	Bare   bool // there is no plant yet
	Faults []plant.Fault
	More   int // faults that are not told
}

func (w *Web) setup(v *view) error {
	v.setupPage(nil)
	v.show(http.StatusOK, "setup")
	return nil
}

// setupPage is the index, with what is wrong with a plant file that was sent.
func (v *view) setupPage(faults []plant.Fault) {
	groups := v.plantGroups()
	for _, g := range []struct {
		name  string
		links []struct{ name, to, says, act string }
	}{
		{"In and out", []struct{ name, to, says, act string }{
			{"The plant as a file", "/setup/plant", "Take it out whole, or put another in its place. What that would change is shown first.", api.ActRead},
			{"Tables in and out", "/setup/files", "Trucks, line-off days, bookings and history as CSV or XLSX. What would become of each row is shown first.", api.ActRead},
		}},
		{"Who hears of it", []struct{ name, to, says, act string }{
			{"Invitations", "/setup/invitations", "Where things stand with the mail about visits.", api.ActRead},
			{"Contacts", "/setup/contacts", "Whom to write to at each customer.", api.ActBook},
			{"Calendars to subscribe to", "/setup/feeds", "Addresses at which a calendar program reads a bay, a crew or a department by itself.", api.ActBook},
			{"Webhooks", "/setup/webhooks", "Programs elsewhere that are told of changes.", api.ActSetUp},
			{"What happens by itself", "/setup/settings", "Whether plans are accepted and invitations mailed without anybody.", api.ActRead},
		}},
		{"People and programs", []struct{ name, to, says, act string }{
			{"People", "/setup/people", "Who may log in, and what they may do.", api.ActManage},
			{"Your password", "/setup/password", "Change it. Everywhere else you are logged out.", api.ActRead},
			{"Tokens", "/setup/tokens", "Let a program in, in your name.", api.ActRead},
			{"Trail", "/setup/trail", "Every attempt to do something, allowed or not.", api.ActManage},
		}},
	} {
		shown := setupGroup{Name: g.name}
		for _, l := range g.links {
			if v.Who.May(l.act) {
				shown.Links = append(shown.Links, setupLink{l.name, l.to, l.says})
			}
		}
		if len(shown.Links) > 0 {
			groups = append(groups, shown)
		}
	}
	told := faults[:min(faultsShown, len(faults))]
	v.setUp("Set up the plant", setupData{groups, v.State == nil, told, len(faults) - len(told)})
}

// setUp gives a page of setting up its title and what it shows.
func (v *view) setUp(title string, data any) {
	v.Title, v.Place, v.Data = title, "setup", data
}

// again shows the page of a form once more, with why it was not done.
func (v *view) again(err error, name string) error {
	v.Said = api.AsProblem(err)
	if v.Said.Kind == api.Broken {
		return err
	}
	v.show(statusOf(v.Said.Kind), name)
	return nil
}
