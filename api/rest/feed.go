package rest

import (
	"net/http"
	"strings"

	"wetdown/api"
	"wetdown/api/wire"
)

// A wireFeed is a calendar to subscribe to.
type wireFeed struct {
	ID      string  `json:"id"`
	Of      string  `json:"of"`
	Who     string  `json:"who"`
	At      *string `json:"at"`
	Address string  `json:"address,omitempty"` // shown when it is made, and never again
}

func toFeed(f *api.Feed) wireFeed { return wireFeed{f.ID, f.Of, f.Who, loggedTime(f.At), ""} }

func listFeeds(x *exchange) error {
	feeds, err := x.app.Feeds(x.Request().Context(), x.who)
	if err != nil {
		return err
	}
	return x.JSON(http.StatusOK, list[wireFeed]{wire.Each(feeds, toFeed)})
}

// postFeeds makes a feed. Its address is secret: whoever has it can read the feed.
func postFeeds(x *exchange) error {
	var in struct {
		Of string `json:"of"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	f, secret, err := x.app.AddFeed(x.Request().Context(), x.who, in.Of)
	if err != nil {
		return err
	}
	w := toFeed(f)
	w.Address = x.base() + "/subscribe/" + secret
	return x.created("/feeds/"+f.ID, w)
}

// base is the address under which people reach the service.
func (x *exchange) base() string {
	if x.s.o.PublicURL != "" {
		return strings.TrimSuffix(x.s.o.PublicURL, "/")
	}
	scheme := "http"
	if x.secure {
		scheme = "https"
	}
	return scheme + "://" + x.Request().Host
}

func dropFeed(x *exchange) error {
	return x.nothing(x.app.DropFeed(x.Request().Context(), x.who, x.Param("id")))
}

// subscribe gives a feed to a program that shows calendars.
func subscribe(x *exchange) error {
	text, revision, err := x.app.ReadFeed(x.Request().Context(), x.Param("secret"))
	if err != nil {
		return err
	}
	if x.current(revision) {
		return x.unchanged()
	}
	return x.Blob(http.StatusOK, calendarType, text)
}
