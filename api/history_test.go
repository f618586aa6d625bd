package api_test

import (
	"bytes"
	"context"
	"fmt"
	"testing"

	"wetdown/api"
	"wetdown/api/sheet"
	"wetdown/calendar"
	"wetdown/solver/generate"
)

// pastOf is the history of an application, read from the table that it gives out.
func pastOf(t testing.TB, a *api.App) []sheet.Past {
	t.Helper()
	data, err := a.GiveFile(context.Background(), manager, sheet.History, sheet.CSV)
	if err != nil {
		t.Fatal(err)
	}
	v, err := sheet.Read(sheet.History, "history.csv", data, newest(t, a).Plant, sheet.Options{})
	if err != nil {
		t.Fatal(err)
	}
	list, err := v.Past()
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// TestHistory_TakenBack has a truck come off the line by mistake, and takes that back: no day
// that was told of it has come.
func TestHistory_TakenBack(t *testing.T) {
	a := started(t, generate.Generate(generate.Options{Trucks: 8, Seed: 3, Load: 0.8}))
	p := newest(t, a).Plant
	truck := onLine(p)
	came := func() (n, of int) {
		t.Helper()
		for _, r := range pastOf(t, a) {
			if r.Truck == truck && r.Event == sheet.EventLineOff {
				if of++; r.Actual != calendar.None {
					n++
				}
			}
		}
		return n, of
	}
	s, err := a.ReportLineOff(ctx, coordinator, api.Intent{}, api.LineOff{Truck: truck, Day: p.AsOf.Date(), Off: true})
	if err != nil {
		t.Fatal(err)
	}
	if n, of := came(); n == 0 || n != of {
		t.Fatalf("off the line: %d of %d days have come", n, of)
	}
	if _, err := a.Undo(ctx, manager, api.Intent{}, s.Revision.Number); err != nil {
		t.Fatal(err)
	}
	if n, of := came(); n != 0 || of == 0 {
		t.Errorf("taken back: %d of %d days have come", n, of)
	}
}

// TestHistory_Told lets a truck slip, come off the line and be visited, and reads in the
// table of the history what was said of it and when it came.
func TestHistory_Told(t *testing.T) {
	ctx := context.Background()
	a := started(t, generate.Generate(generate.Options{Trucks: 8, Seed: 3, Load: 0.8}))
	p := newest(t, a).Plant
	rows := func() []sheet.Past { return pastOf(t, a) }
	of := func(truck, event string) (list []sheet.Past) {
		for _, r := range rows() {
			if r.Truck == truck && r.Event == event {
				list = append(list, r)
			}
		}
		return list
	}
	truck := onLine(p)
	j, err := p.Project()
	if err != nil {
		t.Fatal(err)
	}
	first := j.LineOff(truck)
	if got := of(truck, sheet.EventLineOff); len(got) != 1 || got[0].Projected != first || got[0].Said != p.AsOf.Date() || got[0].Actual != calendar.None {
		t.Fatalf("at first %+v, want %s", got, first)
	}

	// It is said to be later on the next day.
	if _, err := a.ReportProgress(ctx, coordinator, api.Intent{}, api.Report{AsOf: p.AsOf + 24*60, AsPlanned: true}); err != nil {
		t.Fatal(err)
	}
	if _, err := a.ReportLineOff(ctx, coordinator, api.Intent{}, api.LineOff{Truck: truck, Day: first + 7, Reason: "a pump is late", Cause: "S1"}); err != nil {
		t.Fatal(err)
	}
	got := of(truck, sheet.EventLineOff)
	last := got[len(got)-1]
	if len(got) < 2 || got[0].Projected != first || last.Projected != first+7 || last.Said != p.AsOf.Date()+1 {
		t.Fatalf("after a slip: %+v", got)
	}

	accepted(t, a, api.ProposeQuestion{Slips: []string{}})

	// Days pass as planned until it comes off, and every day that was said of it has an end.
	for day := p.AsOf.Date() + 2; day <= first+8; day++ {
		if _, err := a.ReportProgress(ctx, coordinator, api.Intent{}, api.Report{AsOf: day.At(p.AsOf.Clock()), AsPlanned: true}); err != nil {
			t.Fatal(err)
		}
		now := newest(t, a).Plant
		if j, err = now.Project(); err != nil {
			t.Fatal(err)
		}
		var off []api.LineOff
		for _, x := range now.Trucks {
			if d := j.LineOff(x.ID); x.ID != truck && x.Line.Off == calendar.None && d < day {
				off = append(off, api.LineOff{Truck: x.ID, Day: d, Off: true})
			}
		}
		if day == first+8 {
			off = append(off, api.LineOff{Truck: truck, Day: first + 8, Off: true})
		}
		if len(off) > 0 {
			if _, err := a.ReportLineOff(ctx, coordinator, api.Intent{}, off...); err != nil {
				t.Fatal(err)
			}
		}
		accepted(t, a, api.ProposeQuestion{Slips: []string{}})
	}
	got = of(truck, sheet.EventLineOff)
	for _, r := range got {
		if r.Actual != first+8 {
			t.Errorf("it came off on %s: %+v", first+8, r)
		}
	}

	// What was done as planned has its day too: visits and deliveries of trucks past the line.
	came := 0
	for _, r := range rows() {
		if r.Event != sheet.EventLineOff && r.Actual != calendar.None {
			came++
			if r.Actual != r.Projected && r.Said == p.AsOf.Date() {
				t.Errorf("it went as planned, and %+v", r)
			}
		}
	}
	if came == 0 {
		t.Error("no visit and no delivery has come")
	}

	// What is taken in as a table stands beside it.
	table := []byte("truck,event,said,projected,actual\nOLD-1,line_off,2026-01-05,2026-02-02,2026-02-09\n")
	if _, _, err := a.TakeFile(ctx, manager, api.Intent{}, sheet.History, "old.csv", table, 0); err != nil {
		t.Fatal(err)
	}
	if r := of("OLD-1", sheet.EventLineOff); len(r) != 1 || len(of(truck, sheet.EventLineOff)) != len(got) {
		t.Errorf("after a table: %+v", r)
	}
	data, err := a.GiveFile(ctx, manager, sheet.History, sheet.CSV)
	if err != nil || !bytes.Contains(data, []byte("OLD-1")) {
		t.Error(err)
	}
}

// TestHistory_Corrected takes in a table that says of a truck and a day what the plant had
// said otherwise, and then has the plant say it otherwise again: what came later counts.
func TestHistory_Corrected(t *testing.T) {
	ctx := context.Background()
	a := started(t, generate.Generate(generate.Options{Trucks: 8, Seed: 3, Load: 0.8}))
	p := newest(t, a).Plant
	truck := onLine(p)
	j, err := p.Project()
	if err != nil {
		t.Fatal(err)
	}
	first := j.LineOff(truck)
	said := func() calendar.Date {
		t.Helper()
		day, n := calendar.None, 0
		for _, r := range pastOf(t, a) {
			if r.Truck == truck && r.Event == sheet.EventLineOff && r.Said == p.AsOf.Date() {
				day = r.Projected
				n++
			}
		}
		if n != 1 {
			t.Fatalf("%d days were said of one truck on one day", n)
		}
		return day
	}
	if day := said(); day != first {
		t.Fatalf("at first %s, want %s", day, first)
	}
	table := fmt.Sprintf("truck,content,event,said,projected\n%s,medium,line_off,%s,%s\n", truck, p.AsOf.Date(), first+5)
	if _, _, err := a.TakeFile(ctx, manager, api.Intent{}, sheet.History, "corrected.csv", []byte(table), 0); err != nil {
		t.Fatal(err)
	}
	if day := said(); day != first+5 {
		t.Errorf("the table that was taken in says %s, and the history %s", first+5, day)
	}
	if _, err := a.ReportLineOff(ctx, coordinator, api.Intent{}, api.LineOff{Truck: truck, Day: first + 9, Reason: "a pump is late", Cause: "S1"}); err != nil {
		t.Fatal(err)
	}
	if day := said(); day != first+9 {
		t.Errorf("the plant says %s after it, and the history %s", first+9, day)
	}
}
