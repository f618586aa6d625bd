package rest

import (
	"net/http"
	"slices"
	"strings"

	"wetdown/api"
	"wetdown/api/sheet"
)

// What a route takes beside the acts of package api.
const (
	everybody = "everybody" // nobody needs to be known
	anybody   = "anybody"   // whoever is known; what they may do the use case decides
	neighbour = "neighbour" // somebody on this very machine, or who may manage
)

// A route is one thing that can be asked of the service.
type route struct {
	method, path string // the path as in openapi.yaml: /visits/{id}
	act          string // that it takes: of package api, or one of those above
	do           func(*exchange) error
	takes        int64  // most bytes of a body; 0: none is taken
	query        string // parameters, apart by blanks
	secret       bool   // what it answers is shown once and kept nowhere
	trailed      bool   // its use case puts it on the trail by itself
	stream       bool   // it answers with a stream of events
}

// pageQuery are the parameters of a list that goes on.
const pageQuery = "after limit"

// nouns are the named parts of the plant, each with the act that it takes to change one.
var nouns = []struct{ name, act, query string }{
	{"bays", api.ActSetUp, pageQuery},
	{"calendars", api.ActSetUp, pageQuery},
	{"crews", api.ActSetUp, pageQuery},
	{"customers", api.ActSetUp, pageQuery},
	{"departments", api.ActSetUp, pageQuery},
	{"measures", api.ActSetUp, pageQuery},
	{"notice", api.ActSetUp, pageQuery},
	{"parts", api.ActSetUp, pageQuery},
	{"route", api.ActSetUp, pageQuery},
	{"trucks", api.ActSetUp, pageQuery + " customer kind"},
	{"visits", api.ActBook, pageQuery + " customer from kind state through truck"},
	{"wishes", api.ActSetUp, pageQuery},
}

// settings are the parts of the plant that there is one of each.
var settings = []string{"buffer", "calendar", "horizon", "line", "name", "prices", "zone"}

// tables are what files bring in, each with the act that it takes.
var tables = []struct {
	kind sheet.Kind
	act  string
}{
	{sheet.Trucks, api.ActSetUp},
	{sheet.LineOff, api.ActReport},
	{sheet.Bookings, api.ActBook},
	{sheet.History, api.ActSetUp},
}

// routes lists all that can be asked.
func routes() []route {
	const get, post, put, patch, del = http.MethodGet, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete
	list := []route{
		{method: get, path: "/", act: everybody, do: getStart},
		{method: get, path: "/healthz", act: everybody, do: getHealth},
		{method: get, path: "/readyz", act: everybody, do: getReady},
		{method: get, path: "/metrics", act: neighbour, do: getMetrics},
		{method: get, path: "/openapi.json", act: everybody, do: getOpenAPI},
		{method: get, path: "/problems/{type}", act: everybody, do: problemPage},

		{method: post, path: "/login", act: everybody, do: postLogin, takes: maxJSON, secret: true, trailed: true},
		{method: post, path: "/logout", act: everybody, do: postLogout, trailed: true},
		{method: get, path: "/oidc/login", act: everybody, do: beginOIDC},
		{method: get, path: "/oidc/callback", act: everybody, do: finishOIDC, trailed: true},
		{method: get, path: "/session", act: anybody, do: getSession},
		{method: put, path: "/password", act: anybody, do: putPassword, takes: maxJSON, trailed: true},

		{method: get, path: "/plant", act: api.ActRead, do: getPlant, query: "revision"},
		{method: put, path: "/plant", act: api.ActSetUp, do: putPlant, takes: maxPlant, query: "why"},
		{method: get, path: "/plan", act: api.ActRead, do: getPlan},
		{method: get, path: "/readiness", act: api.ActRead, do: getReadiness},
		{method: get, path: "/visits/{id}/chances", act: api.ActRead, do: getChances},
		{method: get, path: "/on-time", act: api.ActRead, do: getOnTime, query: "by"},
		{method: get, path: "/history/backtest", act: api.ActRead, do: getBacktest},

		{method: get, path: "/visits/{id}/booking", act: api.ActRead, do: getBooking},
		{method: put, path: "/visits/{id}/booking", act: api.ActBook, do: putBooking, takes: maxJSON, query: "why"},
		{method: get, path: "/visits/{id}/invitation.ics", act: api.ActBook, do: getInvitation},
		{method: post, path: "/visits/{id}/invitation/release", act: api.ActBook, do: releaseInvitation, takes: maxJSON},
		{method: get, path: "/invitations", act: api.ActRead, do: listInvitations},
		{method: get, path: "/visits/{id}/sheet", act: api.ActRead, do: getVisitSheet},
		{method: get, path: "/bays/{id}/week", act: api.ActRead, do: getBayWeek, query: "day"},
		{method: get, path: "/line-up", act: api.ActRead, do: getLineUp, query: "day"},

		{method: post, path: "/line", act: api.ActReport, do: postLine, takes: maxJSON, query: "why"},
		{method: post, path: "/line-off", act: api.ActReport, do: postLineOff, takes: maxJSON, query: "why"},
		{method: post, path: "/progress", act: api.ActReport, do: postProgress, takes: maxJSON, query: "why"},
		{method: get, path: "/slips", act: api.ActRead, do: listPieces, query: pageQuery},
		{method: get, path: "/slips/{id}", act: api.ActRead, do: getPiece},
		{method: post, path: "/slips", act: api.ActReport, do: postSlip, takes: maxJSON, query: "why"},
		{method: del, path: "/slips/{id}", act: api.ActReport, do: dropSlip, query: "why"},

		{method: post, path: "/proposals", act: api.ActReport, do: postProposals, takes: maxJSON},
		{method: get, path: "/proposals", act: api.ActRead, do: listProposals, query: pageQuery + " order state"},
		{method: get, path: "/proposals/{id}", act: api.ActRead, do: getProposal},
		{method: post, path: "/proposals/{id}/accept", act: api.ActDecide, do: acceptProposal, query: "why"},
		{method: post, path: "/proposals/{id}/drop", act: api.ActDecide, do: dropProposal},

		{method: post, path: "/offers", act: api.ActRead, do: postOffers, takes: maxJSON},
		{method: post, path: "/explanations", act: api.ActRead, do: postExplanations, takes: maxJSON},
		{method: post, path: "/repairs", act: api.ActReport, do: postRepairs, takes: maxJSON},
		{method: post, path: "/repairs/{id}/proposals", act: api.ActReport, do: proposeWay, takes: maxJSON},
		{method: post, path: "/worth", act: api.ActReport, do: postWorth, takes: maxJSON},
		{method: post, path: "/quotes", act: api.ActQuote, do: postQuotes, takes: maxJSON},
		{method: get, path: "/quotes", act: api.ActRead, do: listQuotes, query: pageQuery + " order"},
		{method: get, path: "/quotes/{id}", act: api.ActRead, do: getQuote, query: "again"},
		{method: get, path: "/quotes/{id}/outcome", act: api.ActRead, do: getOutcome},
		{method: post, path: "/quotes/{id}/reservation", act: api.ActQuote, do: postReservation, takes: maxJSON},
		{method: get, path: "/outcomes", act: api.ActRead, do: listOutcomes, query: pageQuery + " order"},
		{method: post, path: "/trucks/{id}/order", act: api.ActQuote, do: orderTruck, query: "why"},
		{method: del, path: "/trucks/{id}/reservation", act: api.ActQuote, do: dropReservation, query: "why"},
		{method: get, path: "/jobs", act: api.ActRead, do: listJobs, query: pageQuery + " order state"},
		{method: get, path: "/jobs/{id}", act: api.ActRead, do: getJob},
		{method: post, path: "/jobs/{id}/cancel", act: anybody, do: cancelJob},
		{method: get, path: "/jobs/{id}/events", act: api.ActRead, do: streamJob, stream: true},
		{method: get, path: "/events", act: api.ActRead, do: streamRevisions, stream: true},

		{method: get, path: "/revisions", act: api.ActRead, do: listRevisions, query: "before limit"},
		{method: get, path: "/revisions/{number}", act: api.ActRead, do: getRevision},
		{method: post, path: "/revisions/{number}/undo", act: api.ActDecide, do: undoRevision, query: "why"},
		{method: get, path: "/calls", act: api.ActRead, do: listCalls, query: pageQuery + " order state"},
		{method: get, path: "/calls/{id}", act: api.ActRead, do: getCall},
		{method: post, path: "/calls/{id}/again", act: api.ActBook, do: callAgain, takes: maxJSON},
		{method: post, path: "/calls/{id}/tick", act: api.ActBook, do: tickCall, takes: maxJSON},

		{method: get, path: "/settings", act: api.ActRead, do: getSettings},
		{method: put, path: "/settings", act: api.ActSetUp, do: putSettings, takes: maxJSON},
		{method: get, path: "/accounts", act: api.ActManage, do: listAccounts, query: pageQuery},
		{method: post, path: "/accounts", act: api.ActManage, do: postAccounts, takes: maxJSON, secret: true, trailed: true},
		{method: get, path: "/accounts/{login}", act: anybody, do: getAccount},
		{method: patch, path: "/accounts/{login}", act: api.ActManage, do: patchAccount, takes: maxJSON, trailed: true},
		{method: post, path: "/accounts/{login}/logout", act: anybody, do: logoutAccount, trailed: true},
		{method: get, path: "/tokens", act: api.ActRead, do: listTokens},
		{method: post, path: "/tokens", act: anybody, do: postTokens, takes: maxJSON, secret: true, trailed: true},
		{method: del, path: "/tokens/{name}", act: anybody, do: dropToken, trailed: true},
		{method: get, path: "/trail", act: api.ActManage, do: listTrail, query: "before limit"},

		{method: get, path: "/webhooks", act: api.ActSetUp, do: listWebhooks},
		{method: post, path: "/webhooks", act: api.ActSetUp, do: postWebhooks, takes: maxJSON, secret: true},
		{method: post, path: "/webhooks/{id}/pause", act: api.ActSetUp, do: pauseWebhook},
		{method: post, path: "/webhooks/{id}/resume", act: api.ActSetUp, do: resumeWebhook, takes: maxJSON},
		{method: del, path: "/webhooks/{id}", act: api.ActSetUp, do: dropWebhook},
		{method: get, path: "/contacts", act: api.ActBook, do: listContacts},
		{method: get, path: "/contacts/{customer}", act: api.ActBook, do: getContact},
		{method: put, path: "/contacts/{customer}", act: api.ActBook, do: putContact, takes: maxJSON},
		{method: del, path: "/contacts/{customer}", act: api.ActBook, do: dropContact},
		{method: get, path: "/feeds", act: api.ActBook, do: listFeeds},
		{method: post, path: "/feeds", act: api.ActBook, do: postFeeds, takes: maxJSON, secret: true},
		{method: del, path: "/feeds/{id}", act: api.ActBook, do: dropFeed},
		{method: get, path: "/subscribe/{secret}", act: everybody, do: subscribe},
	}
	for _, n := range nouns {
		one := "/" + n.name + "/{id}"
		list = append(list,
			route{method: get, path: "/" + n.name, act: api.ActRead, do: listPieces, query: n.query},
			route{method: get, path: one, act: api.ActRead, do: getPiece},
			route{method: put, path: one, act: n.act, do: putPiece, takes: maxJSON, query: "why"},
			route{method: del, path: one, act: n.act, do: dropPiece, query: "why"},
			route{method: get, path: one + "/history", act: api.ActRead, do: getHistory},
		)
	}
	for _, name := range settings {
		one := "/plant/" + name
		list = append(list,
			route{method: get, path: one, act: api.ActRead, do: getPiece},
			route{method: put, path: one, act: api.ActSetUp, do: putPiece, takes: maxJSON, query: "why"},
			route{method: get, path: one + "/history", act: api.ActRead, do: getHistory},
		)
	}
	for _, t := range tables {
		one := "/files/" + strings.ReplaceAll(string(t.kind), "_", "-")
		list = append(list,
			route{method: get, path: one, act: api.ActRead, do: getFile, query: "format"},
			route{method: post, path: one, act: t.act, do: postFile, takes: maxFile, query: "revision why"},
			route{method: post, path: one + "/preview", act: t.act, do: previewFile, takes: maxFile},
		)
	}
	slices.SortStableFunc(list, func(a, b route) int { return strings.Compare(a.path, b.path) })
	return list
}

// echoPath is a path in the words of the framework.
func echoPath(path string) string {
	return strings.NewReplacer("{", ":", "}", "").Replace(path)
}
