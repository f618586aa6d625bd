package web

import (
	"cmp"
	"net/http"
	"slices"
	"strings"

	"wetdown/api"
)

// A feedKind is one sort of calendar to subscribe to.
type feedKind struct {
	Noun string
	One  string // as people say it
	All  string
	Says string // what it holds
}

var feedKinds = []feedKind{
	{"bays", "Bay", "Bays", "every stage in it by the plan in force, from when the bay is taken to when it is free again, with the truck and its customer"},
	{"crews", "Crew", "Hosts and other crews", "the visits for which the crew is needed, with who comes, how many, and what they want to do; also those only asked for, as tentative"},
	{"customers", "Department", "Departments", "the visits booked for its own trucks, with day, hours and place, and nothing of anybody else"},
}

type feedsData struct {
	Kinds  []feedChoice
	List   []feedRow
	Of     string
	Made   *feedRow // just now
	Secret string   // address of the one just made
}

// A feedChoice is a sort of feed with what there is of it.
type feedChoice struct {
	feedKind
	Of []setupLink // To is what a feed is of
}

// A feedRow is a feed in the list.
type feedRow struct {
	*api.Feed
	Name, Holds string
	Gone        bool // what it is of is no longer in the plant
}

// feedChoices are all things of the plant that can have a feed.
func (v *view) feedChoices() (list []feedChoice) {
	p := v.State.Plant
	for _, k := range feedKinds {
		c := feedChoice{feedKind: k}
		add := func(id, name string) {
			c.Of = append(c.Of, setupLink{Name: cmp.Or(name, id), To: k.Noun + "/" + id})
		}
		switch k.Noun {
		case "bays":
			for i := range p.Bays {
				add(p.Bays[i].ID, p.Bays[i].Name)
			}
		case "crews":
			for i := range p.Crews {
				add(p.Crews[i].ID, p.Crews[i].Name)
			}
		case "customers":
			for i := range p.Customers {
				add(p.Customers[i].ID, p.Customers[i].Name)
			}
		}
		if len(c.Of) > 0 {
			list = append(list, c)
		}
	}
	return list
}

// feedRowOf says what a feed is of and holds.
func (v *view) feedRowOf(f *api.Feed) feedRow {
	noun, id, _ := strings.Cut(f.Of, "/")
	r := feedRow{Feed: f, Name: id, Gone: true}
	for _, c := range v.feedChoices() {
		if c.Noun != noun {
			continue
		}
		r.Name, r.Holds = c.One+" "+id, c.Says
		for _, x := range c.Of {
			if x.To == f.Of {
				r.Name, r.Gone = c.One+" "+x.Name, false
			}
		}
	}
	return r
}

func (v *view) feedsPage(d feedsData) error {
	if v.State == nil {
		return api.ErrEmpty
	}
	list, err := v.app.Feeds(v.ctx, v.Who)
	if err != nil {
		return err
	}
	for _, f := range slices.Backward(list) {
		d.List = append(d.List, v.feedRowOf(f))
	}
	d.Kinds = v.feedChoices()
	v.setUp("Calendars to subscribe to", d)
	return nil
}

func (w *Web) feeds(v *view) error {
	if err := v.feedsPage(feedsData{Of: v.r.FormValue("of")}); err != nil {
		return err
	}
	v.show(http.StatusOK, "feeds")
	return nil
}

// addFeed makes a feed, and shows its address this once.
func (w *Web) addFeed(v *view) error {
	d := feedsData{Of: v.r.PostFormValue("of")}
	f, secret, err := w.app.AddFeed(v.ctx, v.Who, d.Of)
	if err == nil {
		r := v.feedRowOf(f)
		d = feedsData{Made: &r, Secret: w.door.Address(v.r) + "/subscribe/" + secret}
	}
	if fault := v.feedsPage(d); fault != nil {
		return fault
	}
	if err != nil {
		return v.again(err, "feeds")
	}
	v.show(http.StatusOK, "feeds")
	return nil
}

// revokeFeed asks before it takes a feed away.
func (w *Web) revokeFeed(v *view) error {
	id := v.r.PathValue("id")
	if v.r.PostFormValue("do") == "revoke-sure" {
		if err := w.app.DropFeed(v.ctx, v.Who, id); err != nil {
			return err
		}
		return v.back("/setup/feeds")
	}
	if v.State == nil {
		return api.ErrEmpty
	}
	list, err := w.app.Feeds(v.ctx, v.Who)
	if err != nil {
		return err
	}
	at := slices.IndexFunc(list, func(f *api.Feed) bool { return f.ID == id })
	if at < 0 {
		return &api.Problem{Kind: api.NotFound, Title: "There is no such feed", Detail: "Somebody may have revoked it.", Next: "Look at the list of feeds."}
	}
	return v.sure("Revoke this feed?", sureData{
		Does: []string{
			"The address of the feed of " + v.feedRowOf(list[at]).Name + " opens nothing any more, for all who have it.",
			"What their calendars have already read stays there as it is, and gets old: tell them to unsubscribe.",
		},
		Rather: "Make a new feed first for those who are to go on reading it: it has an address of its own.",
		To:     "/setup/feeds/" + id, Do: "revoke-sure", Button: "Revoke it", Back: "/setup/feeds",
	})
}
