package plant

import (
	"fmt"

	"wetdown/calendar"
)

// Grid returns the grid of the plant's parts of the day from the first day
// through the last, inclusive, in the plant's zone.
func (p *Plant) Grid(from, through calendar.Date) (*calendar.Grid, error) {
	var cuts []calendar.Clock
	for i, part := range p.Parts {
		if i > 0 {
			cuts = append(cuts, part.From)
		}
	}
	return calendar.NewGrid(p.Zone, from, through, cuts)
}

// Hours works the calendar of that id out on a grid.
func (p *Plant) Hours(id string, g *calendar.Grid) (*calendar.Hours, error) {
	c := p.FindCalendar(id)
	if c == nil {
		return nil, fmt.Errorf("there is no calendar %q: add it to the plant's calendars, or name one of them", id)
	}
	h, err := calendar.Compile(g, c.Rules)
	if err != nil {
		return nil, fmt.Errorf("calendar %s: %w", id, err)
	}
	return h, nil
}

// DepartmentHours works the calendar of a department out on a grid.
func (p *Plant) DepartmentHours(department string, g *calendar.Grid) (*calendar.Hours, error) {
	d := p.FindDepartment(department)
	if d == nil {
		return nil, fmt.Errorf("there is no department %q: add it to the plant's departments, or name one of them", department)
	}
	return p.Hours(d.Calendar, g)
}
