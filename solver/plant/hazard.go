package plant

import (
	"cmp"
	"slices"
	"strings"
)

// A Hazard is a kind of work that wants cautions wherever it is planned.
type Hazard struct {
	ID       string    // pump, road ...; that of the wish for the cautions that a wish names
	Work     string    // such work, in words
	Brief    string    // what matters most, for a line beside the work; without Deferral
	Cautions []Caution // all of it
}

// A hazard is what the program knows of a kind of work. A stage or wish is such
// work if its id, its kind of bay or a feature that it asks for is among known.
type hazard struct{ id, work, brief, cautions, known string }

// hazards in the order in which they are shown. What they say is of their
// cautions.
var hazards = []hazard{
	{
		"pump", "Pump tests, pumping",
		"Hearing protection. Visitors behind the marked line. Bleed a line before it is opened. Wheels chocked, the pump never left alone. Fill the tank by its fill connection only.",
		"C1 C2 C3 C4 C5 C6 C7 C13 C14 C15 C16", "pump pump_test foam foam_test",
	},
	{
		"road", "Road and brake tests, drives",
		"Everybody belted. The plant's licensed driver drives, a customer only after release and briefing. Linings burnished first. Look at road and weather that morning.",
		"C8 C9 C10 C11 C15 C16", "drive test_drive road_test burnish",
	},
	{
		"aerial", "Aerial tests",
		"Level firm ground, stabilisers out, wheels chocked, a spotter. 10 ft or more from lines up to 50 kV, 50 ft above that. Stop for wind at the builder's limit.",
		"C2 C6 C7 C12 C15 C16", "aerial aerial_pad aerial_test",
	},
	{
		"low_voltage", "Low-voltage electrical work",
		"Eyes covered, rings off, no flame or spark at batteries and no tool across their terminals. Wheels chocked, exhaust led away.",
		"C6 C7 C14 C15 C17", "electrical low_voltage",
	},
	{
		"line_voltage", "Line-voltage electrical work",
		"Licensed or otherwise qualified electricians only. Every source off, locked out and proven dead before hands go in. Nobody at the truck during the dielectric test.",
		"C6 C7 C14 C15 C18", "generator line_voltage",
	},
	{
		"breathing_air", "Breathing-air tests",
		"Bleed before anything is opened, eyes covered, no part under more than its marking.",
		"C3 C7 C15", "breathing_air air_test",
	},
	{
		"visit", "Visits",
		"Safety shoes and eye protection in the shop, clear of moving trucks and running pumps. Anybody may call stop.",
		"C7 C15", "",
	},
	{
		"delivery", "Delivery by road",
		"A driver licensed for this truck, belted. Check the wheel nuts after 50-100 miles. Look at road and weather that morning.",
		"C8 C9 C11 C16", "",
	},
}

// Hazards lists the kinds of hazardous work that a plan contains, each once, in
// a fixed order. The cautions that its wishes name, beyond those of what the wish
// is anyway, come last.
func (p *Plant) Hazards(plan *Plan) []Hazard {
	var met []string
	var own []Hazard
	for _, r := range plan.Stages {
		stage, wish, inside := strings.Cut(r.Stage, ".")
		if inside {
			w := p.FindWish(wish)
			if w == nil {
				continue
			}
			met = append(met, knownBy(w.words())...)
			if h := w.own(); len(h.Cautions) > 0 && !slices.ContainsFunc(own, func(o Hazard) bool { return o.ID == h.ID }) {
				own = append(own, h)
			}
			continue
		}
		if s, t := p.FindStage(stage), p.FindTruck(r.Truck); s != nil && t != nil {
			met = append(met, s.hazards(t)...)
		}
	}
	var list []Hazard
	for _, h := range hazards {
		if slices.Contains(met, h.id) {
			list = append(list, Hazard{h.id, h.work, h.brief, cautionsOf(h.cautions)})
		}
	}
	return append(list, own...)
}

// hazards lists the ids of the kinds of hazardous work that the stage is for the
// truck.
func (s *Stage) hazards(t *Truck) []string {
	words := append([]string{s.ID, s.Bay}, s.Needs...)
	for _, e := range s.Extra {
		if t.Has([]string{e.Feature}) {
			words = append(words, e.Feature)
		}
	}
	list := knownBy(words)
	if s.Visit != "" {
		list = append(list, "visit")
	}
	if s.Delivers {
		list = append(list, "delivery")
	}
	return list
}

// words are those by which the wish may be known as hazardous work.
func (w *Wish) words() []string { return append([]string{w.ID, w.Bay}, w.Needs...) }

// own holds the cautions that the wish names and that its work does not bring.
func (w *Wish) own() Hazard {
	brought := knownBy(w.words())
	h := Hazard{ID: w.ID, Work: cmp.Or(w.Name, w.ID)}
	var brief []string
	for _, c := range cautionsOf(w.Caution) {
		if slices.ContainsFunc(hazards, func(k hazard) bool {
			return slices.Contains(brought, k.id) && slices.Contains(strings.Fields(k.cautions), c.ID)
		}) {
			continue
		}
		h.Cautions = append(h.Cautions, c)
		brief = append(brief, strings.TrimSuffix(c.Text, " "+Deferral))
	}
	h.Brief = strings.Join(brief, " ")
	return h
}

// knownBy lists the ids of the kinds of hazardous work that one of the words
// tells.
func knownBy(words []string) (list []string) {
	for _, h := range hazards {
		if slices.ContainsFunc(strings.Fields(h.known), func(k string) bool { return slices.Contains(words, k) }) {
			list = append(list, h.id)
		}
	}
	return list
}
