package paper_test

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"golang.org/x/net/html"

	"wetdown/api/paper"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
	"wetdown/testdata"
)

// planned is the demo plant with its plan in force, made once.
var planned = sync.OnceValues(func() (*plant.Plant, error) {
	p, faults := plant.Read("plant.yaml", []byte(testdata.DemoPlant))
	if len(faults) > 0 {
		return nil, fmt.Errorf("%v", faults[0])
	}
	r, err := solver.Plan(context.Background(), p, solver.Options{})
	if err != nil {
		return nil, err
	}
	p.Plan = r.Plan
	return p, nil
})

func demo(t *testing.T) *plant.Plant {
	t.Helper()
	p, err := planned()
	if err != nil {
		t.Fatal(err)
	}
	return p.With(nil)
}

var (
	voids    = strings.Fields("meta br img hr input link")
	headings = []string{"h1", "h2", "h3", "h4", "h5", "h6"}
)

// sound parses a sheet tag by tag: every element is closed where it belongs,
// headings descend one by one, tables have captions and heads, and there is no
// script. It returns the text.
func sound(t *testing.T, name string, page []byte) string {
	t.Helper()
	var open []string
	var text strings.Builder
	level, tops := 0, 0
	seen := map[string]int{} // in the table that is open
	z := html.NewTokenizer(bytes.NewReader(page))
	for {
		kind := z.Next()
		if kind == html.ErrorToken {
			if z.Err() != io.EOF {
				t.Fatalf("%s: %v", name, z.Err())
			}
			break
		}
		token := z.Token()
		switch kind {
		case html.TextToken:
			if n := len(open); n > 0 && open[n-1] == "style" {
				continue
			}
			text.WriteString(token.Data)
			if n := len(open); n > 0 && slices.Contains([]string{"table", "thead", "tbody", "tr", "ul"}, open[n-1]) && strings.TrimSpace(token.Data) != "" {
				t.Errorf("%s: text %q stands between the cells of a %s", name, token.Data, open[n-1])
			}
		case html.StartTagToken:
			for _, a := range token.Attr {
				if strings.HasPrefix(a.Key, "on") || a.Key == "src" || a.Key == "href" {
					t.Errorf("%s: %s has the attribute %s", name, token.Data, a.Key)
				}
			}
			if slices.Contains(voids, token.Data) {
				continue
			}
			open = append(open, token.Data)
			if h := slices.Index(headings, token.Data) + 1; h > 0 {
				if h > level+1 {
					t.Errorf("%s: h%d follows h%d", name, h, level)
				}
				if level = h; h == 1 {
					tops++
				}
			}
			switch token.Data {
			case "script":
				t.Errorf("%s: there is a script", name)
			case "table":
				clear(seen)
			case "th":
				if !slices.ContainsFunc(token.Attr, func(a html.Attribute) bool { return a.Key == "scope" }) {
					t.Errorf("%s: a th has no scope", name)
				}
			}
			seen[token.Data]++
		case html.EndTagToken:
			n := len(open) - 1
			if n < 0 || open[n] != token.Data {
				t.Fatalf("%s: </%s> closes nothing; open are %v", name, token.Data, open)
			}
			open = open[:n]
			if token.Data == "table" && (seen["caption"] != 1 || seen["thead"] != 1 || seen["th"] == 0) {
				t.Errorf("%s: a table has no caption or no head: %v", name, seen)
			}
		}
	}
	if len(open) > 0 || tops != 1 {
		t.Errorf("%s: left open are %v; there are %d h1", name, open, tops)
	}
	if _, err := html.Parse(bytes.NewReader(page)); err != nil {
		t.Errorf("%s: %v", name, err)
	}
	return strings.Join(strings.Fields(text.String()), " ")
}

// every prints all sheets of a plant there are for a few weeks, and returns their
// text by name.
func every(t *testing.T, p *plant.Plant) map[string]string {
	t.Helper()
	texts := map[string]string{}
	add := func(name string, page []byte, err error) {
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		texts[name] = sound(t, name, page)
	}
	for day := p.AsOf.Date() - 3; day < p.AsOf.Date()+60; day++ {
		page, err := paper.LineUp(p, day)
		add("lineup "+day.String(), page, err)
	}
	for i := range p.Visits {
		page, err := paper.Visit(p, p.Visits[i].ID)
		add("visit "+p.Visits[i].ID, page, err)
	}
	for i := range p.Bays {
		for week := range 3 {
			page, err := paper.BayWeek(p, p.Bays[i].ID, p.AsOf.Date().AddDays(7*week))
			add(fmt.Sprintf("bay %s %d", p.Bays[i].ID, week), page, err)
		}
	}
	return texts
}

// TestSheets_Demo reads what the sheets of the demo plant say, and compares with
// its plan: every delegation stands on the line-up of each of its days, every row
// of the plan in a bay on the week of that bay.
func TestSheets_Demo(t *testing.T) {
	p := demo(t)
	texts := every(t, p)
	out(t, p, "")
	visits, rows := 0, 0
	for _, o := range p.Plan.Visits {
		v := p.FindVisit(o.Visit)
		if o.Day == calendar.None || o.Day >= p.AsOf.Date()+60 {
			continue
		}
		visits++
		text := texts["lineup "+o.Day.String()]
		c := p.FindCustomer(p.FindTruck(v.Truck).Customer)
		for _, want := range []string{v.Truck, c.Name, fmt.Sprint(v.Heads)} {
			if !strings.Contains(text, want) {
				t.Errorf("the line-up of %v does not say %q of %s", o.Day, want, v.ID)
			}
		}
	}
	for _, r := range p.Plan.Stages {
		week := (int(r.Start.Date()) - int(p.AsOf.Date())) / 7 // as_of is a Monday
		if r.Bay == "" || r.Start < p.AsOf || week > 2 {
			continue
		}
		rows++
		if text := texts[fmt.Sprintf("bay %s %d", r.Bay, week)]; !strings.Contains(text, r.Truck) {
			t.Errorf("the week of %s does not say that %s is there from %v", r.Bay, r.Truck, r.Start)
		}
	}
	if visits < 10 || rows < 40 {
		t.Errorf("only %d visits and %d rows were looked for", visits, rows)
	}
	text := texts["visit H1019-F"]
	for _, want := range []string{"Sabelstead Fire Department", "5 people", "confirmed for Tue 30 Mar 2027", "Certificates before the visit", "2 full working days", plant.Deferral, "Signatures"} {
		if !strings.Contains(text, want) {
			t.Errorf("the sheet of H1019-F does not say %q", want)
		}
	}
}

// TestVisit_Cautions asks that a wish to pump brings the cautions for pumping, and
// that none but those named stand there without it.
func TestVisit_Cautions(t *testing.T) {
	p := demo(t)
	i := slices.IndexFunc(p.Visits, func(v plant.Visit) bool { return slices.Contains(v.Wishes, "pump") && v.Planned() })
	if i < 0 {
		t.Fatal("no delegation of the demo plant wants to pump")
	}
	v := &p.Visits[i]
	page, err := paper.Visit(p, v.ID)
	if err != nil {
		t.Fatal(err)
	}
	with := sound(t, v.ID, page)
	v.Wishes = nil
	p.Plan = nil
	if page, err = paper.Visit(p, v.ID); err != nil {
		t.Fatal(err)
	}
	without := sound(t, v.ID, page)
	for _, c := range plant.Cautions() {
		text := strings.TrimSuffix(c.Text, " "+plant.Deferral)
		pumping := slices.Contains(strings.Fields("C1 C2 C3 C4 C5 C6 C7 C13 C14 C15 C16"), c.ID)
		if pumping && !strings.Contains(with, text) {
			t.Errorf("pumping is wanted, and %s is not there", c.ID)
		}
		if visit := c.ID == "C7" || c.ID == "C15"; strings.Contains(without, text) != visit {
			t.Errorf("nothing is wanted, and of %s the sheet says otherwise than for any visit", c.ID)
		}
	}
	if strings.Count(with, plant.Deferral) != 1 {
		t.Errorf("the sheet defers %d times, want once", strings.Count(with, plant.Deferral))
	}
}

// TestSheets_Empty prints what there is to print of plants with next to nothing.
func TestSheets_Empty(t *testing.T) {
	p := demo(t)
	p.Plan = nil
	for name, text := range every(t, p) {
		if !strings.Contains(text, "No plan is in force") {
			t.Errorf("%s does not say that there is no plan", name)
		}
	}
	p.Plan = &plant.Plan{Revision: 1}
	every(t, p)
	p.Trucks, p.Customers = nil, nil // visits to trucks that nobody knows
	every(t, p)
	p.Bays, p.Visits, p.Route, p.Wishes, p.Crews = nil, nil, nil, nil, nil
	if text := every(t, p)["lineup "+p.AsOf.Date().String()]; !strings.Contains(text, "Nobody comes.") {
		t.Errorf("the line-up does not say that nobody comes: %s", text)
	}
}

// nastyWords are names that somebody may type.
var nastyWords = []string{
	`<script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, `</style><b>`, `{{.Plant}}`, "\u202eright to left", "محطة الإطفاء المركزية",
	strings.Repeat("Unbrokenname", 30), strings.Repeat("a long name of a fire department ", 12), "&amp; &lt;", "' onload='x",
}

// TestSheets_Nasty gives every name of the plant to somebody who means harm.
func TestSheets_Nasty(t *testing.T) {
	p := demo(t)
	n := 0
	next := func() string { n++; return nastyWords[n%len(nastyWords)] }
	p.Name = next()
	p.Customers = slices.Clone(p.Customers)
	for i := range p.Customers {
		p.Customers[i].Name, p.Customers[i].Town = next(), next()
	}
	for i := range p.Bays {
		p.Bays[i].Name = next()
		p.Bays[i].Closures = append(p.Bays[i].Closures, plant.Range{From: p.AsOf.Date(), Through: p.AsOf.Date() + 20, Reason: next()})
	}
	for i := range p.Crews {
		p.Crews[i].Name = next()
	}
	p.Route, p.Wishes = slices.Clone(p.Route), slices.Clone(p.Wishes)
	for i := range p.Route {
		p.Route[i].Name = next()
	}
	for i := range p.Wishes {
		p.Wishes[i].Name = next()
	}
	for i := range p.Trucks {
		p.Trucks[i].Kind, p.Trucks[i].Ready = next(), plant.Ready{WorkDays: 1, Approver: next()}
	}
	all := ""
	out(t, p, "nasty-")
	for _, text := range every(t, p) {
		all += text
	}
	for _, w := range nastyWords {
		if r := []rune(w); len(r) > 72 { // longer names have no room
			w = string(r[:71]) + "…"
		}
		if !strings.Contains(all, strings.Join(strings.Fields(w), " ")) {
			t.Errorf("%q stands on no sheet as it was typed", w)
		}
	}
}

// TestLineUp_Sections moves a visit away from its day, and asks where its truck
// stands on the line-ups of both days, and of that on which it is put in place.
func TestLineUp_Sections(t *testing.T) {
	p := demo(t)
	i := slices.IndexFunc(p.Plan.Visits, func(o plant.PlannedVisit) bool {
		v := p.FindVisit(o.Visit)
		return o.Outcome == plant.Kept && v.Kind == plant.FinalInspection && v.Booking.Day > p.AsOf.Date()+2
	})
	o := &p.Plan.Visits[i]
	v := p.FindVisit(o.Visit)
	var row plant.Planned
	for _, r := range p.Plan.Stages {
		if r.Truck == v.Truck && r.Stage == "final_inspection" {
			row = r
		}
	}
	v.Booking.Day -= 2 // as if it had been promised earlier
	o.Outcome = plant.Moved
	section := func(day calendar.Date, heading string) string {
		page, err := paper.LineUp(p, day)
		if err != nil {
			t.Fatal(err)
		}
		_, rest, _ := strings.Cut(sound(t, "line-up", page), heading)
		return rest
	}
	if text := section(v.Booking.Day, "Booked for this day, and not held on it"); !strings.Contains(text, v.Truck) || !strings.Contains(text, "Ask the coordinator") {
		t.Errorf("the line-up of the day it was booked for says nothing of %s: %q", v.Truck, text)
	}
	if text := section(row.Start.Date(), "In place before this day"); !strings.Contains(text, v.Truck) {
		t.Errorf("the line-up of %v does not ask for %s to be in place: %q", row.Start.Date(), v.Truck, text)
	}
	if text := section(row.Hold.Date(), "Put in place on this day, for later"); !strings.Contains(text, v.Truck) {
		t.Errorf("the line-up of %v does not put %s in place: %q", row.Hold.Date(), v.Truck, text)
	}
	page, err := paper.Visit(p, v.ID)
	if err != nil {
		t.Fatal(err)
	}
	if text := sound(t, v.ID, page); !strings.Contains(text, "By this plan the visit moves from") {
		t.Error("the sheet of the visit does not say that it moves")
	}
}

// TestSheets_Refuse asks for sheets that there cannot be.
func TestSheets_Refuse(t *testing.T) {
	p := demo(t)
	for _, c := range []struct {
		err  func() error
		want string
	}{
		{func() error { _, err := paper.LineUp(p, calendar.None); return err }, "name one"},
		{func() error { _, err := paper.Visit(p, "H1019-X"); return err }, "did you mean H1019-"},
		{func() error { _, err := paper.Visit(p, "nobody's"); return err }, "name one of the plant's"},
		{func() error { _, err := paper.BayWeek(p, "flor-1", p.AsOf.Date()); return err }, "did you mean floor-1?"},
		{func() error { _, err := paper.BayWeek(p, "floor-1", calendar.None); return err }, "name one"},
	} {
		if err := c.err(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("got %v, want %q", err, c.want)
		}
	}
}

// TestBayWeek_Monday asks that each day of a week gives the same sheet.
func TestBayWeek_Monday(t *testing.T) {
	p := demo(t)
	monday := calendar.NewDate(2027, time.March, 29)
	want, err := paper.BayWeek(p, "floor-1", monday)
	if err != nil {
		t.Fatal(err)
	}
	for d := monday - 1; d <= monday+7; d++ {
		got, err := paper.BayWeek(p, "floor-1", d)
		if err != nil {
			t.Fatal(err)
		}
		if same := d >= monday && d < monday+7; bytes.Equal(got, want) != same {
			t.Errorf("%v (%v): the same sheet as on Monday is %v, want %v", d, d.Weekday(), !same, same)
		}
	}
}

// out writes sheets into the folder that PAPER names, to be looked at; without it
// none.
func out(t *testing.T, p *plant.Plant, prefix string) {
	t.Helper()
	dir := os.Getenv("PAPER")
	if dir == "" {
		return
	}
	write := func(name string, page []byte, err error) {
		if err == nil {
			err = os.WriteFile(filepath.Join(dir, prefix+name+".html"), page, 0o600)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	for d := p.AsOf.Date(); d < p.AsOf.Date()+50; d++ {
		page, err := paper.LineUp(p, d)
		write("lineup-"+d.String(), page, err)
	}
	for i := range p.Visits {
		page, err := paper.Visit(p, p.Visits[i].ID)
		write("visit-"+p.Visits[i].ID, page, err)
	}
	for i := range p.Bays {
		page, err := paper.BayWeek(p, p.Bays[i].ID, p.AsOf.Date()+14)
		write("bay-"+p.Bays[i].ID, page, err)
	}
}
