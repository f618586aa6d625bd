package web

import (
	"cmp"
	"slices"
	"strconv"
	"time"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// A year of a calendar: twelve months to look at, and the days that have names.
type yearData struct {
	ID       string
	Year     int
	Months   []month
	WorkDays int
	Named    []namedDay
	Used     []string // who works by it
}

type month struct {
	Name     string
	Weeks    [][7]yearDay // Monday first
	WorkDays int
}

// A yearDay is one day of the grid. Its mark repeats in a letter what its look says.
type yearDay struct {
	Day   calendar.Date // calendar.None outside the month
	No    int
	Look  string // works, rest, holiday, closure, overtime
	Mark  string // H, C, O
	Title string
	Now   bool
}

type namedDay struct {
	Day  calendar.Date
	Last calendar.Date
	What string
	Name string
}

// yearsAround bounds which years are shown, from that of the plant's moment.
const yearsAround = 5

// year works a calendar out for the year that is asked for.
func (v *view) year(id string) (*yearData, error) {
	p := v.State.Plant
	now := p.AsOf.Date()
	y, _, _ := now.YMD()
	if n, err := strconv.Atoi(v.r.FormValue("year")); err == nil {
		y = min(max(n, y-yearsAround), y+yearsAround)
	}
	c := p.FindCalendar(id)
	from, through := calendar.NewDate(y, time.January, 1), calendar.NewDate(y, time.December, 31)
	grid, err := p.Grid(from, through)
	if err != nil {
		return nil, err
	}
	hours, err := p.Hours(id, grid)
	if err != nil {
		return nil, err
	}
	d := &yearData{ID: id, Year: y, Used: usersOf(p, id)}
	look := func(day calendar.Date) yearDay {
		_, _, n := day.YMD()
		x := yearDay{Day: day, No: n, Look: "rest", Now: day == now}
		if hours.WorksDay(day) {
			x.Look = "works"
		}
		if reason, shut := hours.Closed(day); shut {
			x.Look, x.Mark, x.Title = "holiday", "H", reason
			for _, k := range c.Rules.Closures {
				if day >= k.From && day <= k.Through {
					x.Look, x.Mark, x.Title = "closure", "C", cmp.Or(k.Reason, "closed")
				}
			}
		}
		for _, o := range c.Rules.Overtime {
			if o.Day == day {
				x.Look, x.Mark, x.Title = "overtime", "O", cmp.Or(o.Note, "overtime")
			}
		}
		return x
	}
	for m := time.January; m <= time.December; m++ {
		begin, end := calendar.NewDate(y, m, 1), calendar.NewDate(y, m+1, 1)
		out := month{Name: m.String()}
		for monday := begin - calendar.Date((int(begin.Weekday())+6)%7); monday < end; monday += 7 {
			var week [7]yearDay
			for i := range week {
				week[i].Day = calendar.None
				if day := monday + calendar.Date(i); day >= begin && day < end {
					week[i] = look(day)
					if hours.WorksDay(day) {
						out.WorkDays++
					}
				}
			}
			out.Weeks = append(out.Weeks, week)
		}
		d.WorkDays += out.WorkDays
		d.Months = append(d.Months, out)
	}
	for _, set := range c.Rules.Holidays {
		days, err := set.Dates(from, through)
		if err != nil {
			return nil, err
		}
		for _, h := range days {
			name := h.Title
			if h.Actual != h.Day {
				name += ", observed (the day itself: " + v.Style.Day(h.Actual) + ")"
			}
			d.Named = append(d.Named, namedDay{h.Day, h.Day, "holiday", name})
		}
	}
	for _, k := range c.Rules.Closures {
		if k.Through >= from && k.From <= through {
			d.Named = append(d.Named, namedDay{k.From, k.Through, "closure", cmp.Or(k.Reason, "no reason given")})
		}
	}
	for _, o := range c.Rules.Overtime {
		if o.Day >= from && o.Day <= through {
			d.Named = append(d.Named, namedDay{o.Day, o.Day, "overtime", cmp.Or(o.Note, "no reason given")})
		}
	}
	slices.SortStableFunc(d.Named, func(a, b namedDay) int { return cmp.Compare(a.Day, b.Day) })
	return d, nil
}

// usersOf are those who work by a calendar.
func usersOf(p *plant.Plant, id string) (list []string) {
	if p.Calendar == id {
		list = append(list, "the plant")
	}
	if p.Line.Calendar == id {
		list = append(list, "the line")
	}
	for i := range p.Departments {
		if x := &p.Departments[i]; x.Calendar == id {
			list = append(list, cmp.Or(x.Name, x.ID))
		}
	}
	for i := range p.Crews {
		if x := &p.Crews[i]; x.Calendar == id {
			list = append(list, cmp.Or(x.Name, x.ID))
		}
	}
	n := 0
	for i := range p.Customers {
		if p.Customers[i].Calendar == id {
			n++
		}
	}
	if n > 0 {
		list = append(list, count(n, "customer"))
	}
	return list
}
