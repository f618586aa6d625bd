package web

import (
	"net/http"
	"net/url"

	"wetdown/api"
)

// A roleWords is a role with what it may do, for people.
type roleWords struct {
	Role string
	Acts []string
}

func allRoles() (list []roleWords) {
	for _, r := range api.Roles() {
		list = append(list, roleWords{r, api.ActsOf(r)})
	}
	return list
}

type peopleData struct {
	List  []*api.Account
	Roles []roleWords
	Next  int64             // after which it goes on; 0: it is whole
	Form  map[string]string // what was typed
	Least int               // characters of a password
}

const peopleShown = 200

func (v *view) peoplePage(form map[string]string) error {
	after, err := v.whole("after")
	if err != nil {
		return err
	}
	list, err := v.app.Accounts(v.ctx, v.Who, api.Page{After: after, Limit: peopleShown})
	if err != nil {
		return err
	}
	d := peopleData{List: list, Roles: allRoles(), Form: form, Least: api.MinPassword}
	if len(list) == peopleShown {
		d.Next = list[len(list)-1].Seq
	}
	v.setUp("People", d)
	return nil
}

func (w *Web) people(v *view) error {
	if err := v.peoplePage(map[string]string{}); err != nil {
		return err
	}
	v.show(http.StatusOK, "people")
	return nil
}

func (w *Web) addPerson(v *view) error {
	form := v.r.PostFormValue
	a, err := w.app.CreateAccount(v.ctx, v.Who, api.AccountOrder{Login: form("login"), Name: form("name"), Role: form("role"), Password: form("password")})
	if err != nil {
		if fault := v.peoplePage(map[string]string{"login": form("login"), "name": form("name"), "role": form("role")}); fault != nil {
			return fault
		}
		return v.again(err, "people")
	}
	return v.back(personAt(a.Login))
}

func personAt(login string) string { return "/setup/people/" + url.PathEscape(login) }

type personData struct {
	Account *api.Account
	Roles   []roleWords
	Self    bool
	Least   int
}

func (v *view) personPage() error {
	a, err := v.app.Account(v.ctx, v.Who, v.r.PathValue("login"))
	if err != nil {
		return err
	}
	v.setUp(a.Name, personData{a, allRoles(), a.Login == v.Who.Name, api.MinPassword})
	return nil
}

func (w *Web) person(v *view) error {
	if err := v.personPage(); err != nil {
		return err
	}
	v.show(http.StatusOK, "person")
	return nil
}

// changePerson does with an account what the button says.
func (w *Web) changePerson(v *view) error {
	login, form := v.r.PathValue("login"), v.r.PostFormValue
	yes, no, name, role, password := true, false, form("name"), form("role"), form("password")
	var err error
	switch form("do") {
	case "change":
		_, err = w.app.ChangeAccount(v.ctx, v.Who, login, api.AccountChange{Name: &name, Role: &role})
	case "disable":
		_, err = w.app.ChangeAccount(v.ctx, v.Who, login, api.AccountChange{Disabled: &yes})
	case "enable":
		_, err = w.app.ChangeAccount(v.ctx, v.Who, login, api.AccountChange{Disabled: &no})
	case "password":
		_, err = w.app.ChangeAccount(v.ctx, v.Who, login, api.AccountChange{Password: &password})
	case "logout":
		err = w.app.LogoutEverywhere(v.ctx, v.Who, login)
	default:
		err = &api.Problem{Kind: api.Invalid, Title: "What is to be done?", Next: "Use one of the buttons of the page."}
	}
	if err != nil {
		if fault := v.personPage(); fault != nil {
			return fault
		}
		return v.again(err, "person")
	}
	return v.back(personAt(login))
}

type passwordData struct{ Least int }

func (w *Web) passwordPage(v *view) error {
	v.setUp("Your password", passwordData{api.MinPassword})
	v.show(http.StatusOK, "password")
	return nil
}

// changePassword changes one's own password.
func (w *Web) changePassword(v *view) error {
	before, after := v.r.PostFormValue("before"), v.r.PostFormValue("after")
	err := error(nil)
	if after != v.r.PostFormValue("again") {
		err = &api.Problem{Kind: api.Invalid, Title: "The new password was not written twice the same", Next: "Write it once more, twice."}
	} else {
		err = w.door.Renew(v.w, v.r, before, after)
	}
	if err != nil {
		v.setUp("Your password", passwordData{api.MinPassword})
		return v.again(err, "password")
	}
	return v.back("/setup")
}
