package web

import (
	"net/http"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/history"
)

type onTimeData struct {
	AsOf   calendar.Date
	By     string
	Tabs   []onTimeTab
	Events []onTimeEvent
	Thin   bool // some group has so few that its share says little
}

// An onTimeTab is one way to group.
type onTimeTab struct {
	By, Name string
}

var onTimeTabs = []onTimeTab{{"", "All"}, {"customer", "By customer"}, {"kind", "By kind of truck"}, {"period", "By half-year"}, {"owner", "By whose clock"}}

// againstWords are the days that on time is measured against.
var againstWords = map[history.Against]string{
	history.Original: "Said first", history.Latest: "Said last", history.Requested: "Asked for", history.Contract: "Contract",
}

// An onTimeEvent is what became of one event of trucks.
type onTimeEvent struct {
	Name    string
	Against []string
	Groups  []onTimeGroup
}

type onTimeGroup struct {
	Name  string
	Cells []onTimeCell
}

// An onTimeCell is a ratio with its bar, in the units of its SVG.
type onTimeCell struct {
	history.Ratio
	Early, Day, Late int // widths
}

const onTimeWidth = 110

// Thin reports whether there are too few to say much.
func (c onTimeCell) Thin() bool { return c.Of() < fewest }

// eventWord names an event of a history.
func eventWord(what string) string {
	words := plainWord(what)
	return strings.ToUpper(words[:min(1, len(words))]) + words[min(1, len(words)):]
}

// onTime counts what came by the day that was said first, said last, asked for, and owed.
func (w *Web) onTime(v *view) error {
	by := v.r.FormValue("by")
	o, err := w.app.OnTime(v.ctx, v.Who, by)
	if err != nil {
		return err
	}
	d := onTimeData{AsOf: o.AsOf, By: by, Tabs: onTimeTabs}
	for _, g := range o.Groups {
		if n := len(d.Events); n == 0 || d.Events[n-1].Name != eventWord(g.What) {
			e := onTimeEvent{Name: eventWord(g.What)}
			for _, a := range history.Againsts {
				e.Against = append(e.Against, againstWords[a])
			}
			d.Events = append(d.Events, e)
		}
		name := g.Name
		switch {
		case g.By == "":
			name = "All"
		case g.By == "customer":
			name = v.customerWord(g.Name)
		case g.By == "kind" || g.By == "owner":
			name = eventWord(g.Name)
		}
		group := onTimeGroup{Name: name}
		for _, r := range g.Ratios {
			c := onTimeCell{Ratio: r}
			if n := r.Of(); n > 0 {
				c.Early = r.Early * onTimeWidth / n
				c.Day = (r.Early+r.OnDay)*onTimeWidth/n - c.Early
				c.Late = onTimeWidth - c.Early - c.Day
				d.Thin = d.Thin || c.Thin()
			}
			group.Cells = append(group.Cells, c)
		}
		e := &d.Events[len(d.Events)-1]
		e.Groups = append(e.Groups, group)
	}
	v.Title, v.Place, v.Data = "On time", "ontime", d
	v.show(http.StatusOK, "ontime")
	return nil
}
