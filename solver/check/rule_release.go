package check

import "wetdown/calendar"

// release: no work starts before now, nor on or before the day the truck comes
// off the line. The bay is taken before work starts, so it is the hold that
// counts; that of a truck which stands ready in its bay may have begun before now. Work
// at a station of the line lies within the days on which the truck
// stands there instead.
func release(h *hearing) {
	for _, r := range h.rows {
		if r.running != nil {
			continue
		}
		if begin := r.bound(); begin < h.p.AsOf {
			h.about(r, begin, "%s begins on %s, but it is %s already. Start it later.", r.name(), atTime(begin), atTime(h.p.AsOf))
		}
		if r.stage.Station == "" {
			h.afterLine(r)
		} else {
			h.atStation(r)
		}
	}
}

func (h *hearing) afterLine(r *row) {
	off := h.line.LineOff(r.Truck)
	switch {
	case off == calendar.None:
		h.about(r, r.Hold, "%s begins on %s, but the line does not say when the truck comes off. Give its place on the line.", r.name(), atTime(r.Hold))
	case r.Hold.Date() <= off:
		h.about(r, r.Hold, "%s begins on %s, but the truck comes off the line on %s. Start it on a day after that.", r.name(), atTime(r.Hold), onDay(off))
	}
}

func (h *hearing) atStation(r *row) {
	stay, ok := h.line.Stay(r.Truck, r.stage.Station)
	switch {
	case !ok:
		h.about(r, r.Hold, "%s takes place at station %s, where the truck does not stand any more. Break the visit, or plan it after line-off.", r.name(), r.stage.Station)
	case r.Hold.Date() < stay.From || stay.Through < r.lastDay():
		h.about(r, r.Hold, "%s takes place %s; the truck stands at station %s %s. Keep it within these days.",
			r.name(), during(r.Hold.Date(), r.lastDay()), r.stage.Station, during(stay.From, stay.Through))
	}
}

// horizon: everything lies within the horizon. Running work began when it began, and a
// truck that stands ready took its bay when it did, but they too end within.
func horizon(h *hearing) {
	from, end := h.p.Horizon.From.At(0), (h.p.Horizon.Through + 1).At(0)
	for _, r := range h.rows {
		if begin := r.bound(); r.running == nil && begin < from {
			h.about(r, begin, "%s begins on %s, before the horizon, which begins on %s. Start it later.", r.name(), atTime(begin), onDay(h.p.Horizon.From))
		}
		if r.End > end {
			h.about(r, r.End, "%s ends on %s, after the horizon, which ends with %s. Start it earlier, or plan further ahead.", r.name(), atTime(r.End), onDay(h.p.Horizon.Through))
		}
	}
}
