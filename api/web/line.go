package web

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver/plant"
)

type lineData struct {
	AsOf     calendar.Moment
	Stations []standsAt // those with trucks, in the order of the line; last those that are to enter
	Count    int
	Done     bool
}

// standsAt are the trucks at one station of the line, those first that leave first.
type standsAt struct {
	Name   string
	Trucks []onLine
}

// onLine is a truck on the line, or one that is to enter it, with what can be said of it.
type onLine struct {
	N              int // of its row in the form
	Truck          *plant.Truck
	Customer       string
	LineOff        calendar.Date
	Next           []plant.Station // that it may have entered since
	Value, On      string          // what was sent
	Feeders        []awaited
	Overdue, Ahead bool // by what was expected it should have gone on; it is to enter
}

type awaited struct {
	plant.Feeder
	Late, Sent bool
}

// entersSoon is within how many days a truck is to enter the line that is shown: what it
// waits for may arrive before.
const entersSoon = 14

func (w *Web) line(v *view) error { return v.showLine(http.StatusOK) }

func (v *view) showLine(status int) error {
	p := v.State.Plant
	d := &lineData{AsOf: p.AsOf, Done: v.r.FormValue("done") != ""}
	j, err := p.Project()
	if err != nil {
		return err
	}
	today := p.AsOf.Date()
	at := make([]standsAt, len(p.Line.Stations)+1)
	for i, s := range p.Line.Stations {
		at[i].Name = stationWords(&s)
	}
	ahead := len(p.Line.Stations)
	at[ahead].Name = "To enter the line"
	for i := range p.Trucks {
		t := &p.Trucks[i]
		if t.Line.Off != calendar.None {
			continue
		}
		k := slices.IndexFunc(p.Line.Stations, func(s plant.Station) bool { return s.ID == t.Line.Station })
		x := onLine{Truck: t, Customer: customerOf(p, t), LineOff: j.LineOff(t.ID), Next: p.Line.Stations[k+1:], Ahead: k < 0}
		if k < 0 {
			if t.Line.Enters == calendar.None || t.Line.Enters > today+entersSoon {
				continue
			}
			x.Overdue = t.Line.Enters < today
			k = ahead
		} else if stay, ok := j.Stay(t.ID, t.Line.Station); ok {
			x.Overdue = stay.Through <= today
		}
		for _, f := range t.Line.Feeders {
			x.Feeders = append(x.Feeders, awaited{Feeder: f, Late: f.Expected < today})
		}
		at[k].Trucks = append(at[k].Trucks, x)
	}
	for i := range at {
		list := at[i].Trucks
		if len(list) == 0 {
			continue
		}
		slices.SortStableFunc(list, func(x, y onLine) int { return int(x.LineOff - y.LineOff) })
		for k := range list {
			x := &list[k]
			x.N = d.Count
			d.Count++
			n := strconv.Itoa(x.N)
			x.Value, x.On = v.r.PostFormValue("to-"+n), v.r.PostFormValue("day-"+n)
			for f := range x.Feeders {
				x.Feeders[f].Sent = v.r.PostFormValue("feeder-"+n+"-"+strconv.Itoa(f)) != ""
			}
		}
		d.Stations = append(d.Stations, at[i])
	}
	v.Title, v.Place, v.Data = "The line", "progress", d
	v.show(status, "line")
	return nil
}

func stationWords(s *plant.Station) string {
	if s.Name != "" {
		return s.Name
	}
	return s.ID
}

// tellLine keeps where the trucks of the line are by now, all of it or nothing.
func (w *Web) tellLine(v *view) error {
	err := v.keepLine()
	if err == nil {
		return v.back("/line?done=yes")
	}
	return v.refused(err, v.showLine)
}

func (v *view) keepLine() error {
	p := v.State.Plant
	var steps []api.LineStep
	for n := 0; v.r.PostFormValue("truck-"+strconv.Itoa(n)) != ""; n++ {
		field := func(name string) string { return v.r.PostFormValue(name + "-" + strconv.Itoa(n)) }
		x := api.LineStep{Truck: field("truck"), Day: p.AsOf.Date()}
		if field("day") != "" {
			if x.Day = dayOf(field("day")); x.Day == calendar.None {
				return &api.Problem{Kind: api.Invalid, Title: "This is no day", Detail: fmt.Sprintf("For truck %s “%s” was sent.", x.Truck, field("day")), Next: "Write it as 2027-05-14."}
			}
		}
		t := p.FindTruck(x.Truck)
		for f := 0; t != nil && f < len(t.Line.Feeders); f++ {
			if v.r.PostFormValue(fmt.Sprintf("feeder-%d-%d", n, f)) == "" {
				continue
			}
			came := x
			came.Feeder, came.Station = t.Line.Feeders[f].Name, t.Line.Feeders[f].Station
			steps = append(steps, came)
		}
		switch to := field("to"); to {
		case "":
		case "off":
			x.Off = true
			steps = append(steps, x)
		default:
			x.Station = to
			steps = append(steps, x)
		}
	}
	if len(steps) == 0 {
		return &api.Problem{Kind: api.Invalid, Title: "Nothing was said", Detail: "Every truck stands where it stood, and nothing arrived.", Next: "Choose what has changed, or leave this page: the line stands as it is."}
	}
	i := api.Intent{Why: v.r.PostFormValue("why")}
	if seen, err := strconv.ParseInt(v.r.PostFormValue("seen"), 10, 64); err == nil {
		i.Expect = api.Expectation{Key: api.Whole, Revision: seen}
	}
	_, err := v.app.ReportLine(v.ctx, v.Who, i, steps...)
	return err
}
