package sheet

import (
	"fmt"
	"slices"

	"wetdown/solver/plant"
)

// stated is a line-off day that a person has stated for a truck.
type stated struct {
	truck string
	plant.Override
}

// lineOffTable is the table of stated line-off days. A row without the day on
// which it was said was said on the day of the plant; it changes nothing if the
// newest word on its truck is the same.
func lineOffTable(p *plant.Plant) *table[stated] {
	had := statedIn(p)
	told := map[telling][]int{}
	newest := map[string]int{} // by truck: the word that counts, of the latest day, and of those the last
	for i, s := range had {
		told[telling{s.truck, "", s.On}] = append(told[telling{s.truck, "", s.On}], i)
		if best, ok := newest[s.truck]; !ok || s.On >= had[best].On {
			newest[s.truck] = i
		}
	}
	return &table[stated]{
		kind: LineOff, noun: "stated day",
		columns: []column[stated]{
			needed(id("truck", "", func(s *stated) *string { return &s.truck }, "id", "truck number", "truck no", "shop order", "shop order number", "shop order no", "order", "order number", "job", "job number", "job no", "unit")),
			day("said", "said", func(s *stated) *date { return &s.On }, "said on", "stated", "stated on", "date stated", "as of"),
			needed(day("line_off", "line_off", func(s *stated) *date { return &s.Off }, "date", "line off date", "projected line off", "projected line off date", "expected line off", "new line off", "new date", "off line", "projection")),
			text("by", "by", func(s *stated) *string { return &s.By }, "said by", "stated by", "who", "role"),
			text("reason", "reason", func(s *stated) *string { return &s.Reason }, "why", "note", "comment", "remark"),
			text("cause", "cause", func(s *stated) *string { return &s.Cause }, "cause code", "code"),
		},
		fresh: func() stated { return stated{Override: plant.Override{On: none, Off: none}} },
		match: func(row *stated, given func(string) bool, taken []bool) int {
			if !given("said") {
				if i, ok := newest[row.truck]; ok && had[i].Off == row.Off {
					row.On = had[i].On
					return i
				}
				row.On = p.AsOf.Date()
			}
			return untaken(told[telling{row.truck, "", row.On}], taken)
		},
		name:  func(s *stated) string { return s.truck + ", said " + s.On.String() },
		place: func(s *stated) string { return "trucks[" + s.truck + "].line.overrides[" + s.On.String() + "]" },
		refuse: func(_, row *stated) []trouble {
			t := p.FindTruck(row.truck)
			switch {
			case t == nil:
				next := "add the truck first, by the table of trucks"
				if near := plant.Nearest(row.truck, truckIDs(p)); near != "" {
					next = "write " + near + " if that is meant"
				}
				return []trouble{{"truck", "there is no truck " + short(row.truck), next}}
			case t.Line.Off != none:
				return []trouble{{"line_off", fmt.Sprintf("%s came off the line on %v", t.ID, t.Line.Off), "take the row out, or correct line_off in the table of trucks"}}
			}
			return nil
		},
	}
}

// statedIn lists what has been stated, truck by truck.
func statedIn(p *plant.Plant) (list []stated) {
	for i := range p.Trucks {
		for _, o := range p.Trucks[i].Line.Overrides {
			list = append(list, stated{p.Trucks[i].ID, o})
		}
	}
	return list
}

// withStated returns the plant in which exactly this has been stated.
func withStated(p *plant.Plant, list []stated) *plant.Plant {
	out := *p
	out.Trucks = slices.Clone(p.Trucks)
	at := map[string]int{}
	for i := range out.Trucks {
		at[out.Trucks[i].ID] = i
		out.Trucks[i].Line.Overrides = nil
	}
	for _, s := range list {
		if i, ok := at[s.truck]; ok {
			l := &out.Trucks[i].Line
			l.Overrides = append(l.Overrides, s.Override)
		}
	}
	return &out
}

func truckIDs(p *plant.Plant) (list []string) {
	for i := range p.Trucks {
		list = append(list, p.Trucks[i].ID)
	}
	return list
}
