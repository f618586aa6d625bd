package plant

import "testing"

func TestReadSlip(t *testing.T) {
	p := readSmall(t)
	bay := p.Bays[0].ID
	day := p.AsOf.Date().AddDays(3)
	for _, c := range []struct {
		text  string
		field string // of the first fault, "" for none
	}{
		{`{wetdown: 1, id: S1, kind: bay_down, bay: ` + bay + `, over: {from: ` + day.String() + `, through: ` + day.String() + `}, cause: flood}`, ""},
		{`{wetdown: 1, id: S1, kind: bay_down, bay: ` + bay + `-none}`, "bay"},
		{`{wetdown: 1, id: S1, kind: flood}`, "kind"},
		{`{wetdown: 1, kind: bay_down}`, "id"},
		{`{wetdown: 1, id: S1, kind: bay_down, bays: x}`, "bays"},
		{`{id: S1, kind: bay_down}`, "wetdown"},
		{`{wetdown: 1, id: `, "?"},
	} {
		s, faults := ReadSlip("slip", []byte(c.text), p)
		switch {
		case c.field == "" && (len(faults) > 0 || s.Kind != BayDown || s.Bay != bay || s.Over.From != day || s.Cause != "flood"):
			t.Errorf("%s: %+v, %v", c.text, s, faults)
		case c.field != "" && (len(faults) == 0 || c.field != "?" && faults[0].Field != c.field):
			t.Errorf("%s: faults %v, want one about %s", c.text, faults, c.field)
		}
	}
}
