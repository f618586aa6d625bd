package sheet

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// Limits of a file. The tables of the largest plant that a plant file may hold
// are within them.
const (
	MaxBytes    = 8 << 20   // of the file
	MaxUnzipped = 48 << 20  // of all that is read of a workbook, unzipped
	MaxRows     = 20_000    // blank ones and the header counted
	MaxColumns  = 100       // of a row
	MaxCells    = 1_000_000 // of the file
	MaxCell     = 32_767    // characters of a cell: no spreadsheet holds more
)

// Options say how a file is taken.
type Options struct {
	// MovePromises allows rows that move a confirmed visit, or take its promise
	// back.
	MovePromises bool
	// Known is the history that a file of the kind History is read against.
	Known []Past
}

// grid is the cells of a file as they stand there.
type grid struct {
	lines   []line
	ignored []string // sheets beside the one that was read
}

type line struct {
	number int
	cells  []cell
}

// Read reads a table against the plant and says what would become of each row.
// name is that of the file, for messages. What is no table of the kind at all, or
// goes beyond a limit, is an error, a *Refusal; a row that cannot be taken is in
// the preview.
//
// Days are ISO 8601, or as a header says in brackets, due (DD.MM.YYYY), or as the
// first line says for the whole file, dates: MM/DD/YYYY. Rules about the plant as
// a whole are looked at when no row is refused by itself.
func Read(kind Kind, name string, data []byte, p *plant.Plant, o Options) (*Preview, error) {
	if !slices.Contains(Kinds, kind) {
		return nil, &Refusal{File: name, Cause: fmt.Sprintf("there is no table %s", short(string(kind))), Next: fmt.Sprintf("ask for one of %v", Kinds)}
	}
	g, err := open(kind, data)
	if err != nil {
		var r *Refusal
		if !errors.As(err, &r) {
			r = &Refusal{Cause: err.Error(), Next: "save the table again as CSV in UTF-8, or as XLSX"}
		}
		r.File = name
		return nil, r
	}
	v := &Preview{Kind: kind, Name: name, Ignored: g.ignored}
	switch kind {
	case Trucks:
		err = take(v, truckTable(p), g, p.Trucks, func(list []plant.Truck) *plant.Plant {
			out := *p
			out.Trucks = list
			return &out
		})
	case LineOff:
		err = take(v, lineOffTable(p), g, statedIn(p), func(list []stated) *plant.Plant { return withStated(p, list) })
	case Bookings:
		err = take(v, bookingTable(p, o.MovePromises), g, p.Visits, func(list []plant.Visit) *plant.Plant {
			out := *p
			out.Visits = list
			return &out
		})
	case History:
		err = take(v, historyTable(o.Known), g, o.Known, func(list []Past) *plant.Plant {
			v.past = list
			return nil
		})
		v.plant = p
	}
	if err != nil {
		return nil, err
	}
	return v, nil
}

// open takes a file apart into cells.
func open(kind Kind, data []byte) (*grid, error) {
	switch {
	case len(data) > MaxBytes:
		return nil, &Refusal{Cause: fmt.Sprintf("the file has %d bytes, more than the %d that are read", len(data), MaxBytes), Next: "split it, or take out what is not part of the table"}
	case bytes.HasPrefix(data, []byte("PK\x03\x04")):
		return openWorkbook(kind, data)
	case bytes.HasPrefix(data, []byte("\xd0\xcf\x11\xe0")):
		return nil, &Refusal{Cause: "the file is an old or an encrypted workbook", Next: "save it as XLSX without a password, or as CSV"}
	}
	return openCSV(kind, data)
}

// A head is the header row: for each cell the column, -1 for one that is ignored.
type head struct {
	columns []int
	layouts []layout
}

// take reads the rows of a grid against those that are there.
func take[T any](v *Preview, t *table[T], g *grid, had []T, put func([]T) *plant.Plant) error {
	h, rest, err := header(v, t, g)
	if err != nil {
		return err
	}
	list := slices.Clone(had)
	taken := make([]bool, len(had))
	lineOf := map[string]int{} // by name: the line that has it
	var places []string        // for each row of v: where the plant has it
	for _, l := range rest {
		row := Row{Line: l.number}
		refuse := func(w trouble) {
			row.Fate = Refused
			row.Refusals = append(row.Refusals, Refusal{v.Name, l.number, w.column, w.cause, w.next})
		}
		given := t.fresh()
		values := map[int]string{} // by column
		for i, c := range l.cells {
			if i >= len(h.columns) {
				if !c.empty() {
					refuse(trouble{"", fmt.Sprintf("the row has %d cells, and the header %d", len(l.cells), len(h.columns)), "look for a separator or a quote too many"})
					break
				}
				continue
			}
			if h.columns[i] < 0 {
				continue
			}
			col := &t.columns[h.columns[i]]
			s, w := col.value(c, h.layouts[i])
			if w.cause != "" {
				w.column = col.name
				refuse(w)
				continue
			}
			values[h.columns[i]] = s
			col.set(&given, s)
		}
		for i := len(l.cells); i < len(h.columns); i++ { // a short row ends in empty cells
			if k := h.columns[i]; k >= 0 {
				if s, w := t.columns[k].value(said(""), layout{}); w.cause != "" {
					refuse(trouble{t.columns[k].name, w.cause, w.next})
				} else {
					values[k] = s
					t.columns[k].set(&given, s)
				}
			}
		}
		at := -1
		if row.Fate != Refused {
			at = t.match(&given, func(name string) bool {
				return slices.ContainsFunc(h.columns, func(k int) bool { return k >= 0 && t.columns[k].name == name && values[k] != "" })
			}, taken)
		}
		row.ID = t.name(&given)
		switch {
		case row.Fate == Refused:
		case at < 0:
			row.Fate = Added
			for k := range t.columns {
				if c := &t.columns[k]; c.need && c.get(&given) == "" {
					refuse(trouble{c.name, "a new " + t.noun + " has no " + c.name, "add the column, and write it"})
				}
			}
			if row.Fate == Added && t.refuse != nil {
				for _, w := range t.refuse(nil, &given) {
					refuse(w)
				}
			}
		default:
			was := list[at]
			for k := range t.columns {
				if s, ok := values[k]; ok {
					if from := t.columns[k].get(&was); from != s {
						row.Changes = append(row.Changes, Change{t.columns[k].name, from, s})
					}
				}
			}
			if row.Fate = Unchanged; len(row.Changes) > 0 {
				row.Fate = Changed
				next := was
				for k := range t.columns {
					if s, ok := values[k]; ok && s != t.columns[k].get(&was) {
						t.columns[k].set(&next, s)
					}
				}
				given = next
				if t.refuse != nil {
					for _, w := range t.refuse(&was, &next) {
						refuse(w)
					}
				}
			}
			row.ID = t.name(&was)
		}
		if first, again := lineOf[row.ID]; row.Fate != Refused && row.ID != "" && again && (at < 0 || taken[at]) {
			refuse(trouble{"", fmt.Sprintf("line %d is about the same %s", first, t.noun), "keep one of the two"})
		} else if !again {
			lineOf[row.ID] = l.number
		}
		switch row.Fate {
		case Added:
			list = append(list, given)
		case Changed:
			list[at] = given
			taken[at] = true
		case Unchanged:
			taken[at] = true
		case Refused:
			row.Changes = nil
		}
		v.Rows = append(v.Rows, row)
		places = append(places, t.place(&given))
	}
	if v.Count(Refused) > 0 {
		return nil
	}
	if p := put(list); p != nil {
		v.plant = p
		judge(v, t, places, plant.Validate(p))
	}
	return nil
}

// header finds the header row: the first one that is not blank, below the line
// that says how days are written, if there is one. What follows are the rows that
// are not blank.
func header[T any](v *Preview, t *table[T], g *grid) (h head, rest []line, err error) {
	refuse := func(line int, column, cause, next string) (head, []line, error) {
		return head{}, nil, &Refusal{v.Name, line, column, cause, next}
	}
	lines := slices.DeleteFunc(slices.Clone(g.lines), func(l line) bool {
		return !slices.ContainsFunc(l.cells, func(c cell) bool { return !c.empty() })
	})
	general := layout{}
	if len(lines) > 0 {
		if key, value, ok := strings.Cut(lines[0].cells[0].text, ":"); ok && slices.Contains([]string{"date", "dates", "days"}, plain(key)) {
			if general, err = layoutOf(value); err != nil {
				return refuse(lines[0].number, "", err.Error(), "write year, month and day as in dates: MM/DD/YYYY")
			}
			lines = lines[1:]
		}
	}
	if len(lines) == 0 {
		return refuse(0, "", "the file has no header row", "write the names of the columns in the first row: "+t.names())
	}
	known := 0
	var misspelt error // the first header that was perhaps meant to be a column
	for _, c := range lines[0].cells {
		text := strings.TrimSpace(c.text)
		name, l, err := named(text)
		if err != nil {
			return refuse(lines[0].number, text, err.Error(), "write four digits for the year, such as (MM/DD/YYYY) or (DD.MM.YYYY)")
		}
		if l == (layout{}) {
			l = general
		}
		at := t.find(name)
		switch {
		case c.bad.cause != "":
			return refuse(lines[0].number, "", "a header cannot be read: "+c.bad.cause, c.bad.next)
		case at >= 0 && slices.Contains(h.columns, at):
			return refuse(lines[0].number, text, "the column "+t.columns[at].name+" is there twice", "keep one of the two")
		case at >= 0:
			known++
		case text != "":
			if near := t.nearest(name); near != "" && misspelt == nil {
				misspelt = &Refusal{v.Name, lines[0].number, text, "the header is not known", "write " + near + " if that is meant, or take the column out"}
			}
			v.Ignored = append(v.Ignored, text)
		}
		h.columns = append(h.columns, at)
		h.layouts = append(h.layouts, l)
	}
	if known == 0 {
		return refuse(lines[0].number, "", "the first row names no column of this table", "begin the table with a row of these names, as many as are needed: "+t.names())
	}
	if misspelt != nil {
		return head{}, nil, misspelt
	}
	if len(lines) > 1 {
		rest = lines[1:]
	}
	return h, rest, nil
}

// judge maps what is wrong with the plant back to the rows that it comes of.
func judge[T any](v *Preview, t *table[T], places []string, faults []plant.Fault) {
	for _, f := range faults {
		r := Refusal{File: v.Name, Cause: f.What, Next: f.Next}
		if f.Allowed != "" {
			r.Cause += " (allowed: " + f.Allowed + ")"
		}
		if r.Next == "" {
			r.Next = "correct it"
		}
		i := slices.IndexFunc(places, func(place string) bool { return within(f.Field, place) })
		if i < 0 || v.Rows[i].Fate == Unchanged {
			r.Cause = f.Field + ": " + r.Cause
			v.Refusals = append(v.Refusals, r)
			continue
		}
		row := &v.Rows[i]
		r.Line = row.Line
		for k := range t.columns {
			if c := &t.columns[k]; c.field != "" && within(f.Field, places[i]+"."+c.field) {
				r.Column = c.name
			}
		}
		row.Fate, row.Changes = Refused, nil
		row.Refusals = append(row.Refusals, r)
	}
}

// within reports whether a field of a plant is at a place, or below it.
func within(field, place string) bool {
	rest, ok := strings.CutPrefix(field, place)
	return ok && place != "" && (rest == "" || rest[0] == '.' || rest[0] == '[')
}

// none is a day that is not there.
const none = calendar.None

type (
	date    = calendar.Date
	weekday = calendar.Weekday
)
