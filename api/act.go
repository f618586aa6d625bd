package api

import (
	"slices"
	"strings"
)

// What can be done. A role is a set of acts, and so is the scope of a token; every
// route of the service and every use case that changes something asks for one.
const (
	ActRead   = "read"   // look at everything about the plant
	ActQuote  = "quote"  // quote delivery dates
	ActBook   = "book"   // visits and their bookings, calls, invitations
	ActReport = "report" // what happened: line-off days, progress, slips
	ActDecide = "decide" // accept or drop proposals, undo
	ActSetUp  = "set_up" // the plant itself, files in, who gets told
	ActManage = "manage" // accounts, tokens, the trail
)

// Acts lists all acts.
func Acts() []string {
	return []string{ActRead, ActQuote, ActBook, ActReport, ActDecide, ActSetUp, ActManage}
}

// Roles of people.
const (
	RoleCoordinator   = "coordinator"
	RoleManager       = "manager"
	RoleSales         = "sales"
	RoleReader        = "reader"
	RoleAdministrator = "administrator"
)

// Roles lists all roles.
func Roles() []string {
	return []string{RoleReader, RoleSales, RoleCoordinator, RoleManager, RoleAdministrator}
}

// ActsOf returns what a role may do; nothing for a role that does not exist.
func ActsOf(role string) []string {
	switch role {
	case RoleReader:
		return []string{ActRead}
	case RoleSales:
		return []string{ActRead, ActQuote}
	case RoleCoordinator:
		return []string{ActRead, ActQuote, ActBook, ActReport}
	case RoleManager:
		return []string{ActRead, ActQuote, ActBook, ActReport, ActDecide, ActSetUp}
	case RoleAdministrator:
		return Acts()
	}
	return nil
}

// An Actor is who does something: a person who has logged in, a program with a token,
// or the service itself.
type Actor struct {
	Name string   // of the account, or of the token as "token:name"; what revisions and the trail say
	Acts []string // what it may do
}

// Service is the actor of what the service does by itself.
var Service = Actor{Name: "wetdown", Acts: Acts()}

// May reports whether the actor may do something.
func (a Actor) May(act string) bool { return slices.Contains(a.Acts, act) }

// must returns a problem unless the actor may do something.
func (a Actor) must(act string) error {
	switch {
	case a.May(act):
		return nil
	case a.Name == "":
		return &Problem{Kind: Unknown, Title: "Nobody is logged in", Next: "Log in, or send a token."}
	}
	var roles []string
	for _, r := range Roles() {
		if slices.Contains(ActsOf(r), act) {
			roles = append(roles, r)
		}
	}
	return &Problem{
		Kind: Forbidden, Title: "You may not do this",
		Detail: "It takes the right to " + strings.ReplaceAll(act, "_", " ") + ", which " + a.Name + " does not have.",
		Next:   "Ask a person with one of these roles: " + strings.Join(roles, ", ") + ".",
	}
}
