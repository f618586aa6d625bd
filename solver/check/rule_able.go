package check

import (
	"slices"
	"strconv"
)

// able: the bay is of the kind the stage needs and takes the truck's length,
// height and rated flow, and the truck has every feature that the bay needs; a
// stage that needs no bay has none.
func able(h *hearing) {
	for _, r := range h.rows {
		if r.running != nil {
			continue
		}
		if why := h.unable(r); why != "" {
			v := r.subject(r.Hold)
			v.Bay = r.Bay
			h.report(v, "%s on %s: %s", r.name(), atTime(r.Hold), why)
		}
	}
}

// unable says why the row's bay is not the right one, "" if it is.
func (h *hearing) unable(r *row) string {
	b, t := h.bays[r.Bay], r.docket.truck
	another := " Give it another bay."
	feet := func(f float64) string { return strconv.FormatFloat(f, 'f', -1, 64) + " ft" }
	switch {
	case r.bay == "" && r.Bay == "":
		return ""
	case r.bay == "":
		return "it needs no bay and has " + h.bayName(r.Bay) + ". Leave the bay out."
	case r.Bay == "":
		return "it needs a bay for " + r.bay + " and has none. Give it one."
	case b == nil:
		return "the plant has no bay " + r.Bay + "." + another
	case !slices.Contains(b.Kinds, r.bay):
		return "it needs a bay for " + r.bay + ", and " + h.bayName(r.Bay) + " is for " + list(b.Kinds, "and") + "." + another
	case b.MaxLengthFt > 0 && t.LengthFt > b.MaxLengthFt:
		return "the truck is " + feet(t.LengthFt) + " long, and " + h.bayName(r.Bay) + " takes " + feet(b.MaxLengthFt) + "." + another
	case b.MaxHeightFt > 0 && t.HeightFt > b.MaxHeightFt:
		return "the truck is " + feet(t.HeightFt) + " high, and " + h.bayName(r.Bay) + " takes " + feet(b.MaxHeightFt) + "." + another
	case b.MaxFlowGPM > 0 && t.FlowGPM > b.MaxFlowGPM:
		return "the pump is rated " + strconv.Itoa(t.FlowGPM) + " gpm, and " + h.bayName(r.Bay) + " takes " + strconv.Itoa(b.MaxFlowGPM) + " gpm." + another
	case !r.docket.has(b.Needs):
		return h.bayName(r.Bay) + " is for trucks with " + list(b.Needs, "and") + " only." + another
	}
	return ""
}

// closed: no truck stands in a bay on a day on which the bay is closed, days before now
// aside for one that stands there already. One
// complaint for each closure that the row runs into.
func closed(h *hearing) {
	for _, r := range h.rows {
		b := h.bays[r.Bay]
		if r.running != nil || b == nil || !r.sound {
			continue
		}
		for _, c := range b.Closures {
			day := max(c.From, r.Hold.Date())
			if r.standing() { // it is there already
				day = max(day, h.p.AsOf.Date())
			}
			if day > min(c.Through, r.lastDay()) {
				continue
			}
			v := r.subject(day.At(0))
			v.Bay = r.Bay
			reason := ""
			if c.Reason != "" {
				reason = " (" + c.Reason + ")"
			}
			h.report(v, "%s holds %s on %s; the bay is closed %s%s. Give it another bay or another time.",
				r.name(), h.bayName(r.Bay), onDay(day), during(c.From, c.Through), reason)
		}
	}
}
