package plant

import (
	"slices"
	"strings"
)

// A Caution is a standing warning to show beside a kind of work. Mark tells how
// well it is founded, as for Stage.Mark.
type Caution struct {
	ID    string
	Title string
	Text  string // ends with Deferral
	Mark  string
}

// Deferral ends every caution.
const Deferral = "Local code, the authority having jurisdiction and the builder's own procedure decide; only qualified people, licensed where the law asks, do this work."

// cautions in the order of their numbers.
var cautions = []Caution{
	{"C1", "Hearing", "A pump panel was measured at 91-101 dB, cabs at 99-116 dB and jump seats at 105-112 dB. Wear hearing protection within the marked area and hand it to every visitor before the engine is raised.", "V"},
	{"C2", "Visitors' line", "Visitors stay behind the marked line. Nobody stands in front of, or astride, a charged line, a cap or a cabinet at the panel: a discharge elbow has broken off with great force in a hose test at 300 psi.", "V"},
	{"C3", "Pressure", "Bleed a line before a cap or an adapter comes off. Check relief valves and bleeders first, and put no part under more than its marking.", "P"},
	{"C4", "Tank fill", "Fill the tank only through its fill connection, by trained people, with check valves in place: a firefighter was killed when a vessel was over-pressurised while a new engine's tank was filled.", "V"},
	{"C5", "Hose", "Use only hose whose service test is current and whose rating covers the pressure. Anchor it at nozzles and flow devices. Open and close valves slowly: water hammer breaks fittings.", "P"},
	{"C6", "Chocks and brake", "Set the parking brake and chock a wheel front and back. The engine is never left alone while pumping and may overcome the parking brake from about 1,300 rpm: see the pump-shift indication before the speed goes up.", "V"},
	{"C7", "Clothing", "Safety shoes, eye and hearing protection; high-visibility clothing near moving vehicles; a hard hat under an aerial. Rings and loose clothing come off. Wet and icy decks are slippery.", "P"},
	{"C8", "Seat belts", "Everybody sits, belted, while the truck moves. Nobody stands or rides on a tailboard or step.", "V"},
	{"C9", "Licence", "A State's relief from the commercial licence for firefighters is for emergency duty in that State; it does not by itself cover a factory test drive or a delivery. Road tests over a State line come under federal motor-carrier rules.", "V"},
	{"C10", "Who drives", "The plant's driver drives and the customer rides. A customer drives only with a copy of the licence, proof of insurance, a written release and a briefing, and never in emergency mode on a public road.", "P"},
	{"C11", "Brakes and tyres", "New linings need their burnish before a hard stop and new tyres are slick: no hard cornering in the first miles. Check the torque of the wheel nuts after 50-100 miles.", "M"},
	{"C12", "Aerial", "Level firm ground, pads, stabilisers fully out, wheels chocked, a spotter. Stay 10 ft or more from lines up to 50 kV and 50 ft or more above that, and treat every line as live. Stop for wind at the builder's limit, often about 35 mph. Visitors go up only with a harness, a qualified operator and written permission.", "M"},
	{"C13", "Water and cold", "Mind ice and wet floors. Foam and test water go only where a permit lets them go, and foam never down a storm drain.", "P"},
	{"C14", "Exhaust and heat", "Run engines outdoors or on ducted exhaust. Particulate filters and panels get hot.", "P"},
	{"C15", "Stop word", "Anybody may call stop. Agree on the radio or hand signal before the start, and show the emergency number, first aid and eye-wash.", "P"},
	{"C16", "Weather", "Look again at temperature, wind, lightning and the state of the road on the morning, and hold the slot if one of them fails.", "P"},
	{"C17", "Low voltage", "Batteries hold acid and give off gas that explodes: eyes covered, no flame or spark near them, and air while they charge. A tool across their terminals burns in a moment: rings off, and disconnect before hands go in.", "V"},
	{"C18", "Line voltage", "120 or 240 volts kill. Only licensed or otherwise qualified electricians open it, with every source off, locked out and tagged, and proven dead by a rated tester. The truck's own source never feeds the shore line. Bar the place off for the dielectric test, often 900 volts: nobody touches the truck.", "M"},
}

// Cautions lists all cautions in order, each text ending with Deferral.
func Cautions() []Caution {
	list := slices.Clone(cautions)
	for i := range list {
		list[i].Text += " " + Deferral
	}
	return list
}

// cautionsOf returns the cautions whose ids are in the list, which is separated
// by spaces, in their own order.
func cautionsOf(ids string) []Caution {
	want := strings.Fields(ids)
	return slices.DeleteFunc(Cautions(), func(c Caution) bool { return !slices.Contains(want, c.ID) })
}
