package api_test

import (
	"fmt"
	"testing"

	"wetdown/api"
	"wetdown/api/sheet"
	"wetdown/solver/history"
)

// TestOnTime compares counts with those made by hand from a table of three trucks:
//
//	A  said for 2 March, then for 9 March; asked for 1 March, contract 10 March; came on 9 March
//	B  said for 2 March; contract 1 March; came on 2 March
//	C  said for 1 April; still to come in the next year
func TestOnTime(t *testing.T) {
	a := started(t, demoPlant(t))
	table := `truck,event,said,projected,actual,truck_kind,content,customer,owner,requested,contract
A,delivery,2026-01-05,2026-03-02,2026-03-09,pumper,medium,Xarn,supplier,2026-03-01,2026-03-10
A,delivery,2026-02-02,2026-03-09,2026-03-09,pumper,medium,Xarn,supplier,2026-03-01,2026-03-10
B,delivery,2026-01-05,2026-03-02,2026-03-02,pumper,medium,Yarn,,,2026-03-01
C,delivery,2026-01-05,2026-04-01,,pumper,medium,Xarn,,,
`
	if _, _, err := a.TakeFile(ctx, manager, api.Intent{}, sheet.History, "old.csv", []byte(table), 0); err != nil {
		t.Fatal(err)
	}
	got := map[string]history.Ratio{}
	for _, by := range []string{"customer", "owner"} {
		o, err := a.OnTime(ctx, who(api.RoleReader), by)
		if err != nil {
			t.Fatal(err)
		}
		if o.AsOf != march(1) {
			t.Errorf("as of %s", o.AsOf)
		}
		for _, g := range o.Groups {
			if g.By != by {
				t.Errorf("asked for %s, and %s is there", by, g.By)
			}
			for i, r := range g.Ratios {
				got[fmt.Sprintf("%s %s %s", g.What, g.Name, history.Againsts[i])] = r
			}
		}
	}
	for name, want := range map[string]history.Ratio{
		"delivery Xarn original":      {Late: 2, Open: 1},
		"delivery Xarn latest":        {OnDay: 1, Late: 1, Open: 1},
		"delivery Xarn requested":     {Late: 1},
		"delivery Xarn contract":      {Early: 1},
		"delivery Yarn original":      {OnDay: 1},
		"delivery Yarn latest":        {OnDay: 1},
		"delivery Yarn requested":     {},
		"delivery Yarn contract":      {Late: 1},
		"delivery supplier contract":  {Early: 1},
		"delivery supplier requested": {Late: 1},
	} {
		if r, ok := got[name]; !ok || r != want {
			t.Errorf("%s: %+v, want %+v", name, r, want)
		}
	}
	all, err := a.OnTime(ctx, manager, "")
	if err != nil || len(all.Groups) == 0 || all.Groups[0].By != "" {
		t.Errorf("all: %+v, %v", all, err)
	}
	if _, err := a.OnTime(ctx, manager, "colour"); problem(t, err) != api.Invalid {
		t.Errorf("by colour: %v", err)
	}
}
