package web

import "wetdown/api"

// A place is one entry of the navigation.
type place struct {
	Name, To string
	Here     bool
}

// places lists the pages that a person may see.
func places(v *view) (list []place) {
	for _, p := range []struct{ id, name, to, act string }{
		{"floor", "Floor", "/floor", api.ActRead},
		{"visits", "Visits", "/visits", api.ActRead},
		{"calls", "Calls", "/calls", api.ActBook},
		{"trucks", "Trucks", "/trucks", api.ActRead},
		{"slips", "Slips", "/slips", api.ActRead},
		{"proposals", "Proposals", "/proposals", api.ActRead},
		{"late", "Late", "/late", api.ActRead},
		{"loads", "Loads", "/loads", api.ActRead},
		{"quotes", "Quotes", "/quotes", api.ActQuote},
		{"ontime", "On time", "/on-time", api.ActRead},
		{"progress", "Progress", "/progress", api.ActReport},
		{"revisions", "Revisions", "/revisions", api.ActRead},
		{"setup", "Plant", "/setup", api.ActBook},
	} {
		if v.Who.May(p.act) {
			list = append(list, place{p.name, p.to, v.Place == p.id})
		}
	}
	return list
}
