package sheet

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// A column is one field of a row. Between file and field a value is text in one
// form only, in which values are compared; days in it are ISO 8601.
type column[T any] struct {
	name  string   // header as it is written
	also  []string // headers that are read as well, as plain writes them
	field string   // where the plant keeps it, below the row, for faults: contract.due
	need  bool     // never empty
	as    shape
	get   func(*T) string
	set   func(*T, string) // text that read or get has given
	read  func(cell, layout) (string, trouble)
}

// A shape is how a workbook shows a value.
type shape int

const (
	asText shape = iota
	asNumber
	asDay
)

// A cell is what a file has in one place.
type cell struct {
	text   string        // as it stands there, "" for nothing
	number bool          // a number of a workbook
	day    calendar.Date // of a cell that a workbook shows as a day; else calendar.None
	bad    trouble       // why it cannot be read
}

func said(text string) cell { return cell{text: text, day: calendar.None} }

func (c cell) empty() bool {
	return c.bad.cause == "" && c.day == calendar.None && strings.TrimSpace(c.text) == ""
}

// value reads the cell of a column.
func (c *column[T]) value(from cell, l layout) (string, trouble) {
	if from.bad.cause != "" {
		return "", from.bad
	}
	if from.empty() {
		if c.need {
			return "", trouble{cause: "the cell is empty", next: "write the " + c.name}
		}
		from = said("")
	}
	if from.day != calendar.None && c.as != asDay {
		return "", trouble{cause: "the cell holds a date, where " + strings.ReplaceAll(c.name, "_", " ") + " belongs", next: "format the column as text, and type the value again"}
	}
	if strings.ContainsFunc(from.text, unicode.IsControl) {
		return "", trouble{cause: "the text has a line break or a control character in it", next: "write it on one line"}
	}
	return c.read(from, l)
}

// text is a column of text for people, or of a name.
func text[T any](name, field string, of func(*T) *string, also ...string) column[T] {
	return column[T]{
		name: name, field: field, also: also,
		get: func(t *T) string { return textOf(*of(t)) },
		set: func(t *T, s string) { *of(t) = s },
		read: func(c cell, _ layout) (string, trouble) {
			return textOf(c.text), trouble{}
		},
	}
}

// textOf leaves text as it is, unless it is nothing but blanks.
func textOf(s string) string {
	if strings.TrimSpace(s) == "" {
		return ""
	}
	return s
}

// id is a column of the name of something, without blanks around it.
func id[T any](name, field string, of func(*T) *string, also ...string) column[T] {
	c := text(name, field, of, also...)
	c.read = func(c cell, _ layout) (string, trouble) { return idOf(c), trouble{} }
	return c
}

// idOf reads a name. A workbook keeps a name that is a number as one: 2041 is not
// 2041.0.
func idOf(c cell) string {
	s := strings.TrimSpace(c.text)
	if f, err := strconv.ParseFloat(s, 64); c.number && err == nil && f == math.Trunc(f) && math.Abs(f) < 1<<53 {
		return strconv.FormatFloat(f, 'f', -1, 64)
	}
	return s
}

// word is a column of one of a few words.
func word[T any](name, field string, of func(*T) *string, allowed []string, also ...string) column[T] {
	c := text(name, field, of, also...)
	c.read = func(c cell, _ layout) (string, trouble) {
		s := strings.TrimSpace(c.text)
		w := strings.ReplaceAll(plain(s), " ", "_")
		if s == "" || slices.Contains(allowed, w) {
			return w, trouble{}
		}
		next := "write one of: " + strings.Join(allowed, ", ")
		if near := plant.Nearest(w, allowed); near != "" {
			next = "write " + near + " if that is meant"
		}
		return "", trouble{cause: short(s) + " is not known here", next: next}
	}
	return c
}

var thousands = regexp.MustCompile(`^\d{1,3}(,\d{3})+$`)

// whole is a column of whole numbers; an empty cell means or.
func whole[T any](name, field string, of func(*T) *int, or int, also ...string) column[T] {
	return column[T]{
		name: name, field: field, also: also, as: asNumber,
		get: func(t *T) string { return strconv.Itoa(*of(t)) },
		set: func(t *T, s string) { *of(t), _ = strconv.Atoi(s) },
		read: func(c cell, _ layout) (string, trouble) {
			s := strings.TrimPrefix(strings.TrimSpace(c.text), "$")
			if thousands.MatchString(s) {
				s = strings.ReplaceAll(s, ",", "")
			}
			if s == "" {
				return strconv.Itoa(or), trouble{}
			}
			f, err := strconv.ParseFloat(s, 64)
			if _, exact := strconv.Atoi(s); exact != nil && !c.number || err != nil || f != math.Trunc(f) || math.Abs(f) > 1e9 {
				return "", trouble{cause: short(c.text) + " is no whole number", next: "write digits only, such as 1500"}
			}
			return strconv.Itoa(int(f)), trouble{}
		},
	}
}

// feet is a column of feet.
func feet[T any](name, field string, of func(*T) *float64, also ...string) column[T] {
	print := func(f float64) string { return strconv.FormatFloat(f, 'f', -1, 64) }
	return column[T]{
		name: name, field: field, also: also, as: asNumber,
		get: func(t *T) string { return print(*of(t)) },
		set: func(t *T, s string) { *of(t), _ = strconv.ParseFloat(s, 64) },
		read: func(c cell, _ layout) (string, trouble) {
			s := strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(c.text), "ft"))
			f, err := strconv.ParseFloat(s, 64)
			if err != nil || !(f >= 0 && f < 1e6) {
				return "", trouble{cause: short(c.text) + " is no number of feet", next: "write feet with a point, such as 38.5 for 38 ft 6 in"}
			}
			return print(f + 0), trouble{} // + 0: there is no minus zero
		},
	}
}

// day is a column of days.
func day[T any](name, field string, of func(*T) *calendar.Date, also ...string) column[T] {
	return column[T]{
		name: name, field: field, also: also, as: asDay,
		get: func(t *T) string { return of(t).String() },
		set: func(t *T, s string) { *of(t) = dayOf(s) },
		read: func(c cell, l layout) (string, trouble) {
			if c.day != calendar.None {
				return c.day.String(), trouble{}
			}
			if c.number {
				return "", trouble{
					cause: fmt.Sprintf("the cell holds the number %s, and not a date", c.text),
					next:  "format the cell as a date, or write the day as YYYY-MM-DD",
				}
			}
			d, w := l.day(strings.TrimSpace(c.text))
			return d.String(), w
		},
	}
}

// dayOf is the day of text in its one form, None of "".
func dayOf(s string) calendar.Date {
	d, err := calendar.ParseDate(s)
	if err != nil {
		return calendar.None
	}
	return d
}

// yes is a column of yes and no; an empty cell means no.
func yes[T any](name, field string, of func(*T) *bool, also ...string) column[T] {
	const is, not = "yes", "no"
	return column[T]{
		name: name, field: field, also: also,
		get: func(t *T) string {
			if *of(t) {
				return is
			}
			return not
		},
		set: func(t *T, s string) { *of(t) = s == is },
		read: func(c cell, _ layout) (string, trouble) {
			switch strings.ToLower(strings.TrimSpace(c.text)) {
			case "yes", "y", "true", "1", "x":
				return is, trouble{}
			case "", "no", "n", "false", "0":
				return not, trouble{}
			}
			return "", trouble{cause: short(c.text) + " is neither yes nor no", next: "write yes or no"}
		},
	}
}

// ids is a column of a list of names, with commas between. A name with a comma or
// a semicolon in it stands in quotes, which no name has.
func ids[T any](name, field string, of func(*T) *[]string, also ...string) column[T] {
	print := func(list []string) string {
		quoted := make([]string, len(list))
		for i, s := range list {
			if quoted[i] = s; strings.ContainsAny(s, ",;") {
				quoted[i] = `"` + s + `"`
			}
		}
		return strings.Join(quoted, ", ")
	}
	return column[T]{
		name: name, field: field, also: also,
		get: func(t *T) string { return print(*of(t)) },
		set: func(t *T, s string) { *of(t) = pieces(s) },
		read: func(c cell, _ layout) (string, trouble) {
			if strings.Count(c.text, `"`)%2 != 0 {
				return "", trouble{cause: "a quote is not closed in " + short(c.text), next: "put a quote at both ends of the name, or at none"}
			}
			return print(pieces(idOf(c))), trouble{}
		},
	}
}

// pieces takes a list of names apart.
func pieces(s string) (list []string) {
	inside, from := false, 0
	add := func(piece string) {
		if piece = strings.TrimSpace(strings.ReplaceAll(piece, `"`, "")); piece != "" {
			list = append(list, piece)
		}
	}
	for i, r := range s {
		switch {
		case r == '"':
			inside = !inside
		case (r == ',' || r == ';') && !inside:
			add(s[from:i])
			from = i + 1
		}
	}
	add(s[from:])
	return list
}

// weekdays is a column of days of the week: mon, tue.
func weekdays[T any](name, field string, of func(*T) *[]calendar.Weekday, also ...string) column[T] {
	print := func(list []calendar.Weekday) string {
		names := make([]string, len(list))
		for i, d := range list {
			names[i] = strings.ToLower(d.String()[:3])
		}
		return strings.Join(names, ", ")
	}
	parse := func(s string) (list []calendar.Weekday, bad string) {
		for _, p := range pieces(s) {
			w := strings.ToLower(p)
			d := slices.IndexFunc(weekdayNames, func(n string) bool { return w == n || len(w) >= 3 && strings.HasPrefix(n, w) })
			if d < 0 {
				return nil, p
			}
			list = append(list, calendar.Weekday(d))
		}
		return list, ""
	}
	return column[T]{
		name: name, field: field, also: also,
		get: func(t *T) string { return print(*of(t)) },
		set: func(t *T, s string) { *of(t), _ = parse(s) },
		read: func(c cell, _ layout) (string, trouble) {
			list, bad := parse(c.text)
			if bad != "" {
				return "", trouble{cause: short(bad) + " is no day of the week", next: "write mon, tue, wed, thu, fri, sat or sun, with commas between"}
			}
			return print(list), trouble{}
		},
	}
}

var weekdayNames = func() (names []string) {
	for d := range 7 {
		names = append(names, strings.ToLower(time.Weekday(d).String()))
	}
	return names
}()

// spans is a column of runs of days: 2027-04-12..2027-04-16; 2027-05-03. The
// reasons that people gave for them do not stand in a table: a run of the same
// days keeps its reason.
func spans[T any](name, field string, of func(*T) *[]plant.Range, also ...string) column[T] {
	print := func(list []plant.Range) string {
		runs := make([]string, len(list))
		for i, r := range list {
			if runs[i] = r.From.String() + ".." + r.Through.String(); r.From == r.Through {
				runs[i] = r.From.String()
			}
		}
		return strings.Join(runs, "; ")
	}
	parse := func(s string, l layout) ([]plant.Range, trouble) {
		var list []plant.Range
		for _, run := range strings.Split(s, ";") {
			if run = strings.TrimSpace(run); run == "" {
				continue
			}
			first, last, two := strings.Cut(run, "..")
			if !two {
				first, last, two = strings.Cut(run, " to ")
			}
			if !two {
				last = first
			}
			from, w := l.day(strings.TrimSpace(first))
			through, v := l.day(strings.TrimSpace(last))
			switch {
			case w.cause != "":
				return nil, w
			case v.cause != "":
				return nil, v
			case from == calendar.None || through == calendar.None:
				return nil, trouble{cause: short(run) + " lacks a day", next: "write first..last, such as 2027-04-12..2027-04-16"}
			}
			list = append(list, plant.Range{From: from, Through: through})
		}
		return list, trouble{}
	}
	return column[T]{
		name: name, field: field, also: also,
		get: func(t *T) string { return print(*of(t)) },
		set: func(t *T, s string) {
			list, _ := parse(s, layout{})
			for i := range list {
				for _, r := range *of(t) {
					if r.From == list[i].From && r.Through == list[i].Through {
						list[i].Reason = r.Reason
					}
				}
			}
			*of(t) = list
		},
		read: func(c cell, l layout) (string, trouble) {
			if c.number {
				return "", trouble{cause: fmt.Sprintf("the cell holds the number %s, and not days", c.text), next: "write days as text, such as 2027-04-12..2027-04-16"}
			}
			list, w := parse(c.text, l)
			return print(list), w
		},
	}
}

// needed marks a column that is never empty.
func needed[T any](c column[T]) column[T] {
	c.need = true
	return c
}
