package rest

import (
	"net/http"
	"strconv"

	"wetdown/api"
)

// A wireAccount is a person who may log in.
type wireAccount struct {
	Login    string  `json:"login"`
	Name     string  `json:"name"`
	Role     string  `json:"role"`
	Disabled bool    `json:"disabled"`
	Outside  bool    `json:"outside"` // logs in with the identity provider
	Created  *string `json:"created"`
}

func toAccount(a *api.Account) wireAccount {
	return wireAccount{a.Login, a.Name, a.Role, a.Disabled, a.Outside, loggedTime(a.Created)}
}

func listAccounts(x *exchange) error {
	page, err := x.page()
	if err != nil {
		return err
	}
	list, err := x.app.Accounts(x.Request().Context(), x.who, page)
	if err != nil {
		return err
	}
	return paged(x, "after", list, page.Limit-1, func(a *api.Account) string { return strconv.FormatInt(a.Seq, 10) }, toAccount)
}

func getAccount(x *exchange) error {
	a, err := x.app.Account(x.Request().Context(), x.who, x.Param("login"))
	if err != nil {
		return err
	}
	return x.JSON(http.StatusOK, toAccount(a))
}

func postAccounts(x *exchange) error {
	var in struct {
		Login    string `json:"login"`
		Name     string `json:"name"`
		Role     string `json:"role"`
		Password string `json:"password"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	a, err := x.app.CreateAccount(x.Request().Context(), x.who, api.AccountOrder{Login: in.Login, Name: in.Name, Role: in.Role, Password: in.Password})
	if err != nil {
		return err
	}
	return x.created("/accounts/"+a.Login, toAccount(a))
}

// created answers with a thing that was made, and where it is.
func (x *exchange) created(at string, w any) error {
	x.Response().Header().Set("Location", at)
	return x.JSON(http.StatusCreated, w)
}

// patchAccount changes of an account what is given.
func patchAccount(x *exchange) error {
	var in struct {
		Name     *string `json:"name"`
		Role     *string `json:"role"`
		Disabled *bool   `json:"disabled"`
		Password *string `json:"password"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	a, err := x.app.ChangeAccount(x.Request().Context(), x.who, x.Param("login"), api.AccountChange{Name: in.Name, Role: in.Role, Disabled: in.Disabled, Password: in.Password})
	if err != nil {
		return err
	}
	return x.JSON(http.StatusOK, toAccount(a))
}

// logoutAccount ends all sessions of an account.
func logoutAccount(x *exchange) error {
	if err := x.app.LogoutEverywhere(x.Request().Context(), x.who, x.Param("login")); err != nil {
		return err
	}
	return x.NoContent(http.StatusNoContent)
}
