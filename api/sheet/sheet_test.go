package sheet_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"wetdown/api/sheet"
	"wetdown/calendar"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
	"wetdown/testdata"
)

// demo is the demo plant.
func demo(t testing.TB) *plant.Plant {
	t.Helper()
	p, faults := plant.Read("plant.yaml", []byte(testdata.DemoPlant))
	if len(faults) > 0 {
		t.Fatal(faults[0])
	}
	return p
}

func read(t testing.TB, kind sheet.Kind, data string, p *plant.Plant, o sheet.Options) *sheet.Preview {
	t.Helper()
	v, err := sheet.Read(kind, "table.csv", []byte(data), p, o)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// told prints a preview, one row a line.
func told(v *sheet.Preview) string {
	var b strings.Builder
	for _, r := range v.Rows {
		fmt.Fprintf(&b, "%d %s %s\n", r.Line, r.Fate, r.ID)
		for _, c := range r.Changes {
			fmt.Fprintf(&b, "  %s: %q to %q\n", c.Column, c.From, c.To)
		}
		for _, f := range r.Refusals {
			fmt.Fprintf(&b, "  %s\n", f.Error())
		}
	}
	for _, f := range v.Refusals {
		fmt.Fprintf(&b, "%s\n", f.Error())
	}
	if len(v.Ignored) > 0 {
		fmt.Fprintf(&b, "ignored: %s\n", strings.Join(v.Ignored, ", "))
	}
	return b.String()
}

var plantKinds = []sheet.Kind{sheet.Trucks, sheet.LineOff, sheet.Bookings}

// unchanged reads what has been written and asks that nothing would change.
func unchanged(t interface {
	Helper()
	Fatalf(string, ...any)
}, kind sheet.Kind, f sheet.Format, p *plant.Plant, rows int) {
	t.Helper()
	data, err := sheet.Write(kind, f, p)
	if err != nil {
		t.Fatalf("%s as %s: %v", kind, f, err)
	}
	again, err := sheet.Write(kind, f, p)
	if err != nil || !bytes.Equal(data, again) {
		t.Fatalf("%s as %s: written twice, it differs (%v)", kind, f, err)
	}
	v, err := sheet.Read(kind, "table", data, p, sheet.Options{})
	if err != nil {
		t.Fatalf("%s as %s: %v", kind, f, err)
	}
	if n := v.Count(sheet.Unchanged); n != rows || len(v.Rows) != rows {
		t.Fatalf("%s as %s: %d of %d rows are unchanged, want %d:\n%s", kind, f, n, len(v.Rows), rows, told(v))
	}
	q, err := v.Plant()
	if err != nil {
		t.Fatalf("%s as %s: %v", kind, f, err)
	}
	if !reflect.DeepEqual(p, q) {
		t.Fatalf("%s as %s: nothing is changed, but the plant is: %s", kind, f, cmp.Diff(p, q))
	}
}

func rowsOf(p *plant.Plant, kind sheet.Kind) int {
	switch kind {
	case sheet.Trucks:
		return len(p.Trucks)
	case sheet.Bookings:
		return len(p.Visits)
	}
	n := 0
	for i := range p.Trucks {
		n += len(p.Trucks[i].Line.Overrides)
	}
	return n
}

func TestRoundTrip_Demo(t *testing.T) {
	p := demo(t)
	for _, kind := range plantKinds {
		for _, f := range []sheet.Format{sheet.CSV, sheet.XLSX} {
			unchanged(t, kind, f, p, rowsOf(p, kind))
		}
	}
}

// nasty is text that somebody may have written for people, and that a spreadsheet,
// a CSV reader or XML might take for something else.
var nasty = []string{
	"=1+1", "'=1+1", "''=1+1", "'", "@SUM(A1)", "-5", "+5", "-", "a;b", `say "no"`, "a,b", "_x0041_", "_x000D_",
	"<b>&amp;", " blanks around ", "2027-03-04", "TRUE", "1e5", "007", "日本", "\u202eright to left", "#REF!",
}

// TestRoundTrip_Generated writes and reads generated plants with text of all kinds
// in them.
func TestRoundTrip_Generated(t *testing.T) {
	var plants []*plant.Plant
	for seed := range uint64(8) {
		plants = append(plants, generate.Generate(generate.Options{Trucks: 3 + 2*int(seed), Seed: seed, Load: 0.9}))
	}
	rapid.Check(t, func(t *rapid.T) {
		p := plants[rapid.IntRange(0, len(plants)-1).Draw(t, "plant")].With(nil) // a copy
		p.Horizon.Through = p.Horizon.Through.AddDays(120)
		word := rapid.SampledFrom(nasty)
		day := func() calendar.Date { return p.AsOf.Date().AddDays(-rapid.IntRange(0, 60).Draw(t, "days ago")) }
		for i := range p.Trucks {
			tr := &p.Trucks[i]
			if rapid.Bool().Draw(t, "stated") && tr.Line.Off == calendar.None {
				for range rapid.IntRange(1, 3).Draw(t, "times") {
					tr.Line.Overrides = append(tr.Line.Overrides, plant.Override{On: day(), Off: day().AddDays(61), By: word.Draw(t, "by"), Reason: word.Draw(t, "reason"), Cause: word.Draw(t, "cause")})
				}
			}
			if rapid.Bool().Draw(t, "ready") {
				tr.Ready = plant.Ready{WorkDays: rapid.IntRange(0, 3).Draw(t, "work days"), Approver: word.Draw(t, "approver")}
			}
			if rapid.Bool().Draw(t, "option") {
				tr.Options = append(slices.Clone(tr.Options), rapid.SampledFrom([]string{"=foam", "a,b", "c; d", "-x"}).Draw(t, "option"))
			}
		}
		for i := range p.Visits {
			p.Visits[i].Windows = slices.Clone(p.Visits[i].Windows)
			for j := range p.Visits[i].Windows {
				p.Visits[i].Windows[j].Reason = word.Draw(t, "reason")
			}
		}
		if f := plant.Validate(p); len(f) > 0 {
			t.Fatalf("the plant is wrong before anything is written: %v", f[0])
		}
		for _, kind := range plantKinds {
			for _, f := range []sheet.Format{sheet.CSV, sheet.XLSX} {
				unchanged(t, kind, f, p, rowsOf(p, kind))
			}
		}
	})
}

// TestRoundTrip_Anew takes a table into a plant that has nothing of it.
func TestRoundTrip_Anew(t *testing.T) {
	p := demo(t)
	for _, f := range []sheet.Format{sheet.CSV, sheet.XLSX} {
		bare := *p
		bare.Visits, bare.Slips = nil, nil
		data, err := sheet.Write(sheet.Bookings, f, p)
		if err != nil {
			t.Fatal(err)
		}
		v, err := sheet.Read(sheet.Bookings, "visits", data, &bare, sheet.Options{})
		if err != nil {
			t.Fatal(err)
		}
		q, err := v.Plant()
		if err != nil {
			t.Fatal(err)
		}
		if n := v.Count(sheet.Added); n != len(p.Visits) {
			t.Errorf("%d visits are added, want %d", n, len(p.Visits))
		}
		want := slices.Clone(p.Visits)
		for i := range want { // reasons stand in no table
			for _, list := range []*[]plant.Range{&want[i].Windows, &want[i].Blackouts} {
				*list = slices.Clone(*list)
				for j := range *list {
					(*list)[j].Reason = ""
				}
			}
		}
		if d := cmp.Diff(want, q.Visits); d != "" {
			t.Errorf("%s: %s", f, d)
		}
	}
}

// Tables and records from before there were owners and days of contract are read,
// and what they lack is unknown.
func TestHistory_Before(t *testing.T) {
	v, err := sheet.Read(sheet.History, "past", []byte("truck,content,kind,said,projected,actual,cause\nG7,heavy,line off,2026-03-21,2026-04-01,2026-04-03,chassis\n"), demo(t), sheet.Options{})
	if err != nil {
		t.Fatal(err)
	}
	past, err := v.Past()
	if err != nil {
		t.Fatal(err)
	}
	d := calendar.NewDate(2026, time.March, 21)
	want := []sheet.Past{{Truck: "G7", Content: plant.Heavy, Event: sheet.EventLineOff, Said: d, Projected: d + 11, Actual: d + 13, Cause: "chassis", Requested: calendar.None, Contract: calendar.None}}
	if d := cmp.Diff(want, past); d != "" {
		t.Error(d)
	}
	var kept []sheet.Past
	if err := json.Unmarshal([]byte(fmt.Sprintf(`[{"Truck":"G7","Content":"heavy","Event":"line_off","Said":%d,"Projected":%d,"Actual":%d,"Cause":"chassis"}]`, d, d+11, d+13)), &kept); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(want, kept); d != "" {
		t.Error(d)
	}
}

func TestRoundTrip_History(t *testing.T) {
	d := calendar.NewDate(2026, time.March, 1)
	known := []sheet.Past{
		{Truck: "G7", Content: plant.Heavy, Event: sheet.EventLineOff, Said: d, Projected: d + 30, Actual: d + 33, Cause: "=late chassis", Kind: "pumper", Customer: "Mirrenwade, Volunteers", Owner: "supplier", Requested: d + 28, Contract: d + 40},
		{Truck: "G7", Event: sheet.EventLineOff, Said: d + 20, Projected: d + 31, Actual: calendar.None, Requested: calendar.None, Contract: calendar.None},
		{Truck: "G7", Event: sheet.EventLineOff, Said: d + 20, Projected: d + 34, Actual: calendar.None, Requested: calendar.None, Contract: calendar.None},
		{Truck: "-G8", Event: sheet.EventDelivery, Said: calendar.None, Projected: d, Actual: d, Requested: calendar.None, Contract: calendar.None},
		{Truck: "G8", Event: plant.FinalInspection, Said: d, Projected: d + 3, Actual: d + 3, Requested: calendar.None, Contract: d},
	}
	for _, f := range []sheet.Format{sheet.CSV, sheet.XLSX} {
		data, err := sheet.WriteHistory(f, known)
		if err != nil {
			t.Fatal(err)
		}
		v, err := sheet.Read(sheet.History, "past", data, demo(t), sheet.Options{Known: known})
		if err != nil {
			t.Fatal(err)
		}
		if v.Count(sheet.Unchanged) != len(known) {
			t.Errorf("%s: want all rows unchanged:\n%s", f, told(v))
		}
		v, err = sheet.Read(sheet.History, "past", data, demo(t), sheet.Options{Known: known[:1]})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := v.Past(); err == nil || !strings.Contains(err.Error(), "line 3 is about the same projection") {
			t.Errorf("%s: two rows said the same day of one truck are added: %v", f, err)
		}
		v, err = sheet.Read(sheet.History, "past", []byte("truck,event,said,projected,actual\nG7,line off,2026-03-21,2026-04-01,2026-04-03\n"), demo(t), sheet.Options{Known: known[:2:2]})
		if err != nil {
			t.Fatal(err)
		}
		past, err := v.Past()
		if err != nil || len(past) != 2 || past[1].Actual != calendar.NewDate(2026, time.April, 3) || known[1].Actual != calendar.None {
			t.Errorf("%s: the day it happened is not taken in: %v, %v", f, past, err)
		}
	}
}

// cases are files as people write them, and what would become of their rows.
var cases = []struct {
	name, kind, file, want string
	o                      sheet.Options
}{
	{
		name: "forgiving of headers, order, separators, blank rows and a byte-order mark",
		kind: "trucks",
		file: "\ufeffContract Delivery ; SHOP ORDER no. ; Liquidated damages per day\r\n2027-05-20 ; H1001 ; $400\r\n;;\r\n\r\n",
		want: "2 changed H1001\n  due: \"2027-03-10\" to \"2027-05-20\"\n  damages_dollars_per_day: \"0\" to \"400\"\n",
	},
	{
		name: "tabs, quotes, and a column that nobody knows",
		kind: "trucks",
		file: "truck\tmy remark\tgraphics\n\"H1001\"\t\"a\ttab\"\tgold_leaf\n",
		want: "2 unchanged H1001\nignored: my remark\n",
	},
	{
		name: "a header misspelt",
		kind: "trucks",
		file: "truck,contract delivrey\nH1001,2027-05-20\n",
		want: "table.csv, line 1, contract delivrey: the header is not known. Next: write due if that is meant, or take the column out.",
	},
	{
		name: "days as the header says",
		kind: "trucks",
		file: "truck,due (DD.MM.YYYY),deadline (MM/DD/YYYY)\nH1001,04.06.2027,7/4/2027\n",
		want: "2 changed H1001\n  due: \"2027-03-10\" to \"2027-06-04\"\n  deadline: \"\" to \"2027-07-04\"\n",
	},
	{
		name: "days as the first line says, with English months",
		kind: "line_off",
		file: "dates: DD-MMM-YYYY,,\ntruck,line off,why\nH1019,11-Mar-2027,chassis late\n",
		want: "3 added H1019, said 2027-03-01\n",
	},
	{
		name: "days that nobody can be sure of",
		kind: "trucks",
		file: "truck,due\nH1001,03/04/2027\nH1002,4/23/2027\nH1003,03/04/27\nH1004,next week\nH1005,2027-02-30\n",
		want: `2 refused H1001
  table.csv, line 2, due: "03/04/2027" can be read in two ways. Next: write 2027-03-04 or 2027-04-03, or name the way in the header, such as (MM/DD/YYYY) or (DD.MM.YYYY).
3 refused H1002
  table.csv, line 3, due: "4/23/2027" is not written as YYYY-MM-DD. Next: write 2027-04-23, or name the way in the header, such as (MM/DD/YYYY) or (DD.MM.YYYY).
4 refused H1003
  table.csv, line 4, due: "03/04/27" is no day that is sure. Next: write it as YYYY-MM-DD, with four digits for the year.
5 refused H1004
  table.csv, line 5, due: "next week" is no day. Next: write it as YYYY-MM-DD.
6 refused H1005
  table.csv, line 6, due: "2027-02-30" is no day of the calendar. Next: correct the day.
`,
	},
	{
		name: "faults of the plant, at their rows",
		kind: "trucks",
		file: "truck,length,station\nH1001,400,\nH1002,30,nowhere\nH1003,30,\n",
		want: `2 refused H1001
  table.csv, line 2, length_ft: 400 feet are too many (allowed: feet from 1 to 200). Next: correct the number.
3 refused H1002
  table.csv, line 3, station: there is no station of the line "nowhere" (allowed: chassis, pump, body, tank, paint, cab, wiring, final). Next: write one of them.
  table.csv, line 3: H1002 stands at the station nowhere and came off the line on 2027-01-21 (allowed: one of station, line_off and enters). Next: take one of the two away.
4 changed H1003
  length_ft: "29.5" to "30"
`,
	},
	{
		name: "the same truck twice",
		kind: "trucks",
		file: "truck,weight\nH1001,2\nH1001,3\n",
		want: "2 changed H1001\n  weight: \"1\" to \"2\"\n3 refused H1001\n  table.csv, line 3: line 2 is about the same truck. Next: keep one of the two.\n",
	},
	{
		name: "new trucks with too little",
		kind: "trucks",
		file: "truck,customer\nN1,Nowhere Fire\nN2,C027\n",
		want: `2 refused N1
  table.csv, line 2, customer: there is no customer "Nowhere Fire". Next: write the id of a customer of the plant, or add the customer first.
3 refused N2
  table.csv, line 3, kind: a new truck has no kind. Next: add the column, and write it.
  table.csv, line 3, content: a new truck has no content. Next: add the column, and write it.
  table.csv, line 3, due: a new truck has no due. Next: add the column, and write it.
`,
	},
	{
		name: "cells that are none of their column",
		kind: "trucks",
		file: "truck,content,height,gpm,damages\nH1001,hevy,\"10,5\",1.500,\"1,500\"\n,,,,x\n",
		want: `2 refused H1001
  table.csv, line 2, content: "hevy" is not known here. Next: write heavy if that is meant.
  table.csv, line 2, height_ft: "10,5" is no number of feet. Next: write feet with a point, such as 38.5 for 38 ft 6 in.
  table.csv, line 2, flow_gpm: "1.500" is no whole number. Next: write digits only, such as 1500.
3 refused 
  table.csv, line 3, truck: the cell is empty. Next: write the truck.
  table.csv, line 3, content: the cell is empty. Next: write the content.
  table.csv, line 3, height_ft: the cell is empty. Next: write the height_ft.
  table.csv, line 3, damages_dollars_per_day: "x" is no whole number. Next: write digits only, such as 1500.
`,
	},
	{
		name: "a row with a cell too many",
		kind: "trucks",
		file: "truck,weight\nH1001,2,3\n",
		want: `2 refused H1001
  table.csv, line 2: the row has 3 cells, and the header 2. Next: look for a separator or a quote too many.
`,
	},
	{
		name: "no header",
		kind: "trucks",
		file: "H1001,2\n",
		want: `table.csv, line 1: the first row names no column of this table. Next: begin the table with a row of these names, as many as are needed: truck, customer, kind, content, length_ft, height_ft, flow_gpm, options, graphics, due, damages_dollars_per_day, damages_cap_dollars, deadline, weight, ready_work_days, ready_approver, station, since, line_off, enters.`,
	},
	{
		name: "a stated day for a truck that is off, and for none",
		kind: "line_off",
		file: "truck,date,said\nH1001,2027-03-08,\nH1091,2027-03-08,\nH1019,2027-03-08,2027-04-01\n",
		want: `2 refused H1001, said 2027-03-01
  table.csv, line 2, line_off: H1001 came off the line on 2027-01-19. Next: take the row out, or correct line_off in the table of trucks.
3 refused H1091, said 2027-03-01
  table.csv, line 3, truck: there is no truck "H1091". Next: write H1001 if that is meant.
4 added H1019, said 2027-04-01
`,
	},
	{
		name: "promises stay",
		kind: "bookings",
		file: "truck,status,date,flights bought\nH1019,confirmed,2027-04-01,no\nH1016,cancelled,2027-04-06,no\n",
		want: `2 refused H1019-F
  table.csv, line 2, day: H1019-F is confirmed for 2027-03-30, and the row moves it to 2027-04-01. Next: move it by a booking instead.
3 refused H1016-F
  table.csv, line 3, state: H1016-F is confirmed for 2027-04-06, and the row makes it cancelled. Next: move it by a booking instead.
`,
	},
	{
		name: "promises moved where that is allowed",
		kind: "bookings",
		file: "truck,status,date\nH1019,confirmed,2027-04-06\n",
		o:    sheet.Options{MovePromises: true},
		want: `2 changed H1019-F
  day: "2027-03-30" to "2027-04-06"
`,
	},
	{
		name: "a visit for a truck that has none, and for none",
		kind: "bookings",
		file: "truck,people,half days,can come\nH1024,2,2,2027-05-03 to 2027-05-14;2027-05-20\nX,2,2,2027-05-03..2027-05-14\n",
		want: `2 changed H1024-F
  heads: "3" to "2"
  halves: "4" to "2"
  windows: "2027-05-04..2027-05-12; 2027-05-22..2027-06-13" to "2027-05-03..2027-05-14; 2027-05-20"
3 refused X-final_inspection
  table.csv, line 3, truck: there is no truck "X" (allowed: H1001, H1002, H1003, H1004, H1005, H1006, H1007, H1008, H1009, H1010, H1011, H1012, H1013, H1014, H1015, H1016, H1017, H1018, H1019, H1020 and 4 more). Next: write one of them.
`,
	},
}

func TestRead(t *testing.T) {
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			v, err := sheet.Read(sheet.Kind(c.kind), "table.csv", []byte(c.file), demo(t), c.o)
			got := ""
			if err != nil {
				got = err.Error()
			} else {
				got = told(v)
			}
			if got != c.want {
				t.Errorf("got\n%s\nwant\n%s", got, c.want)
			}
		})
	}
}

// TestBookings_Promises changes a confirmed and a frozen visit in each way that
// takes a promise back, and in ways that do not.
func TestBookings_Promises(t *testing.T) {
	p := demo(t)
	v := p.FindVisit("H1019-F")
	for _, frozen := range []bool{false, true} {
		v.Booking.TravelBought = frozen
		state := map[bool]string{false: "confirmed", true: "frozen"}[frozen]
		for _, c := range []struct{ head, cell, column, why string }{
			{"day", "2027-03-31", "day", "moves it to 2027-03-31"},
			{"day", "", "day", "moves it to no day"},
			{"state", "tentative", "state", "makes it tentative"},
			{"state", "cancelled", "state", "makes it cancelled"},
			{"truck", "H1020", "truck", "gives it to H1020"},
			{"kind", "pre_paint", "kind", "another kind of visit"},
			{"windows", "2027-04-06..2027-04-07", "windows", "leaves no window"},
			{"blackouts", "2027-03-30", "blackouts", "blacks that day out"},
		} {
			file := "visit,truck," + c.head + "\nH1019-F,H1019," + c.cell + "\n"
			if c.head == "truck" {
				file = "visit,truck\nH1019-F," + c.cell + "\n"
			}
			got := told(read(t, sheet.Bookings, file, p, sheet.Options{}))
			want := fmt.Sprintf("table.csv, line 2, %s: H1019-F is %s for 2027-03-30, and ", c.column, state)
			if !strings.Contains(got, want) || !strings.Contains(got, c.why) || !strings.Contains(got, "Next: move it by a booking instead.") {
				t.Errorf("%s: got %s, want %s...%s", file, got, want, c.why)
			}
			if got := told(read(t, sheet.Bookings, file, p, sheet.Options{MovePromises: true})); strings.Contains(got, "move it by a booking") {
				t.Errorf("%s: it is allowed, and refused: %s", file, got)
			}
		}
		for _, c := range []string{"heads\nH1019-F,H1019,6", "windows\nH1019-F,H1019,2027-03-30..2027-04-02", "state\nH1019-F,H1019,done", "wishes\nH1019-F,H1019,drive"} {
			if got := told(read(t, sheet.Bookings, "visit,truck,"+c+"\n", p, sheet.Options{})); !strings.HasPrefix(got, "2 changed H1019-F") {
				t.Errorf("%s: it takes no promise back, and is refused: %s", c, got)
			}
		}
	}
	got := told(read(t, sheet.Bookings, "visit,truck,travel_bought\nH1019-F,H1019,no\n", p, sheet.Options{}))
	if !strings.Contains(got, "travel is bought, which the row takes back") {
		t.Errorf("got %s", got)
	}
}

// TestPreview_AllOrNothing asks that one refused row keeps all others out, and that
// the plant which was read against is never changed.
func TestPreview_AllOrNothing(t *testing.T) {
	p := demo(t)
	before := plant.Write(p)
	v := read(t, sheet.Trucks, "truck,weight,options\nH1001,5,\"aerial, foam\"\nH1002,x,\n", p, sheet.Options{})
	q, err := v.Plant()
	if q != nil || err == nil || !strings.Contains(err.Error(), "line 3, weight") {
		t.Errorf("a row is refused, and there is a plant: %v", err)
	}
	v = read(t, sheet.Trucks, "truck,weight,options\nH1001,5,\"generator, winch\"\nH1002,2,\n", p, sheet.Options{})
	if q, err = v.Plant(); err != nil {
		t.Fatal(err)
	}
	if q.Trucks[0].Contract.Weight != 5 || fmt.Sprint(q.Trucks[0].Options) != "[generator winch]" {
		t.Errorf("the row is not in the plant: %+v", q.Trucks[0])
	}
	if !bytes.Equal(before, plant.Write(p)) {
		t.Error("the plant that was read against is changed")
	}
	// What is wrong elsewhere in the plant is told, at no row.
	wrong := *p
	wrong.Visits = slices.Clone(p.Visits)
	wrong.Visits[0].Halves = 0
	v = read(t, sheet.Trucks, "truck,weight\nH1001,5\n", &wrong, sheet.Options{})
	if _, err := v.Plant(); err == nil || len(v.Refusals) != 1 || !strings.Contains(v.Refusals[0].Cause, "visits[H1001-F].halves") {
		t.Errorf("got %v, %+v", err, v.Refusals)
	}
	// A day said after the day of the plant, at its row.
	v = read(t, sheet.LineOff, "truck,line_off,said\nH1019,2027-03-11,2027-03-02\n", p, sheet.Options{})
	if got := told(v); !strings.Contains(got, "line 2, said: 2027-03-02, on which the line-off day was stated, is after as_of") {
		t.Errorf("got %s", got)
	}
}
