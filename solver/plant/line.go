package plant

import "wetdown/calendar"

// A Line is what comes before line-off, kept coarse.
type Line struct {
	Calendar  string
	Stations  []Station
	FreeSlots []FreeSlot // places on the line for orders not started
}

// A Station is passed by every truck in order. Trucks of the same lane keep a
// takt apart.
type Station struct {
	ID    string
	Name  string
	Takt  Takt
	Lanes bool // light, medium and heavy take separate lanes here
}

// Takt is the working minutes a truck spends at a station, by work content.
type Takt struct {
	LightMinutes, MediumMinutes, HeavyMinutes int
}

// A FreeSlot is a number of trucks of one work content that may enter the line
// in the week that begins on Week.
type FreeSlot struct {
	Week    calendar.Date
	Content string
	Count   int
}
