package web

import (
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"sync"

	"go.yaml.in/yaml/v3"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// A shape is what a value of the plant file can be: a part of its JSON Schema.
type shape struct {
	Type        any
	Properties  map[string]*shape
	Required    []string
	Items       *shape
	AnyOf       []*shape
	Enum        []string
	Description string
	Default     json.RawMessage
	Format      string
}

// shapes is the schema of plant files.
var shapes = sync.OnceValue(func() *shape {
	s := &shape{}
	if err := json.Unmarshal(plant.Schema(), s); err != nil {
		panic(err) // the program has printed it itself
	}
	return s
})

// shapeOf is the shape of a noun of the plant, or of a setting; nil for what there is not.
func shapeOf(noun string) *shape {
	s := shapes().Properties[noun]
	if s != nil && s.Type == "array" {
		return s.Items
	}
	return s
}

// What a field of a form looks like.
const (
	fieldText     = "text"
	fieldNumber   = "number"
	fieldDay      = "date"
	fieldCheck    = "check"
	fieldChoice   = "choice"
	fieldSeveral  = "several"
	fieldLines    = "lines"
	fieldEstimate = "estimate"
	fieldGroup    = "group"
	fieldRows     = "rows"
)

// A field is one value of a form, or a group of them.
type field struct {
	Kind     string
	Name     string // of the input
	Label    string
	Hint     string
	Value    string
	Default  string
	Need     bool
	Fixed    bool // it is shown and cannot be changed
	Choices  []formChoice
	Fields   []field   // of a group, and of an estimate; the heads of rows
	Rows     [][]field // of rows
	TextRows int       // of lines
}

type formChoice struct {
	Value, Word string
	Is          bool
}

// first are keys that come before the others of their object, in this order.
var first = strings.Fields("id name set pattern truck customer town kind kinds content stage crew feature department calendar day from through mon tue wed thu fri sat sun length hours light_hours heavy_hours")

// keys are the keys of an object in the order of a form.
func (s *shape) keys() []string {
	rank := func(k string) int {
		if i := slices.Index(first, k); i >= 0 {
			return i
		}
		return len(first)
	}
	return slices.SortedFunc(maps.Keys(s.Properties), func(a, b string) int { return cmp.Or(cmp.Compare(rank(a), rank(b)), strings.Compare(a, b)) })
}

// object is the shape of an element of rows that has keys, and the key that may stand
// for a whole element.
func (s *shape) object() (of *shape, short string) {
	if s.Type == "object" {
		return s, ""
	}
	for _, a := range s.AnyOf {
		if a.Type == "object" {
			return a, a.Required[0]
		}
	}
	return nil, ""
}

func (s *shape) kind() string {
	switch {
	case s.Type == "boolean":
		return fieldCheck
	case s.Type == "object":
		return fieldGroup
	case s.Type == "array":
		if o, _ := s.Items.object(); o != nil {
			return fieldRows
		}
		if len(s.Items.Enum) > 0 {
			return fieldSeveral
		}
		return fieldLines
	case slices.ContainsFunc(s.AnyOf, func(a *shape) bool { return a.Type == "array" }):
		return fieldEstimate
	case len(s.Enum) > 0:
		return fieldChoice
	case s.Format == "date":
		return fieldDay
	case s.Type == "integer" || s.Type == "number" || len(s.AnyOf) > 0: // hours may be 5h40
		return fieldNumber
	}
	return fieldText
}

// elsewhere are keys that are said on other pages: what was reported and agreed. A form
// leaves them as they are.
var elsewhere = map[string][]string{
	"trucks": {"done", "running", "overruns"},
	"visits": {"booking"},
}

// A former makes a form for one noun of a plant, and reads it again.
type former struct {
	p    *plant.Plant
	noun string
}

// fields are the fields of an object with the values of a node, which may be nil.
func (f *former) fields(s *shape, n *yaml.Node, path string) (list []field) {
	for _, k := range s.keys() {
		if path == "f" && slices.Contains(elsewhere[f.noun], k) {
			continue
		}
		list = append(list, f.field(s.Properties[k], valueOf(n, k), path+"."+k, k, slices.Contains(s.Required, k)))
	}
	// What is one line comes before tables.
	slices.SortStableFunc(list, func(a, b field) int { return cmp.Compare(big(a), big(b)) })
	return list
}

func big(f field) int {
	switch {
	case f.Kind == fieldGroup && f.Empty():
		return 2
	case f.Kind == fieldRows || f.Kind == fieldGroup:
		return 1
	}
	return 0
}

// Empty reports whether nothing stands in any field of a group.
func (f field) Empty() bool {
	return !slices.ContainsFunc(f.Fields, func(x field) bool {
		return x.Value != "" || len(x.Rows) > 1 || slices.ContainsFunc(x.Choices, func(c formChoice) bool { return c.Is && c.Value != "" })
	})
}

func (f *former) field(s *shape, n *yaml.Node, name, key string, need bool) field {
	x := field{Kind: s.kind(), Name: name, Label: labelOf(key), Hint: strings.ReplaceAll(s.Description, "Absent:", "Empty:"), Need: need, Default: strings.Trim(string(s.Default), `"`)}
	choices := f.known(key, name)
	switch x.Kind {
	case fieldGroup:
		x.Fields = f.fields(s, n, name)
	case fieldRows:
		o, short := s.Items.object()
		x.Fields = f.fields(o, nil, name)
		elements := []*yaml.Node{}
		if n != nil {
			elements = n.Content
		}
		for i := range len(elements) + 1 { // and one to add
			var e *yaml.Node
			if i < len(elements) {
				e = elements[i]
			}
			if e != nil && e.Kind == yaml.ScalarNode {
				e = &yaml.Node{Kind: yaml.MappingNode, Content: []*yaml.Node{{Kind: yaml.ScalarNode, Value: short}, e}}
			}
			x.Rows = append(x.Rows, f.fields(o, e, fmt.Sprintf("%s.%d", name, i)))
		}
	case fieldSeveral, fieldLines:
		var have []string
		if n != nil {
			for _, e := range n.Content {
				have = append(have, e.Value)
			}
		}
		if x.Kind == fieldSeveral {
			choices = s.Items.Enum
		}
		if choices == nil {
			x.Value, x.TextRows = strings.Join(have, "\n"), max(2, len(have)+1)
			break
		}
		x.Kind = fieldSeveral
		for _, c := range joined(have, choices...) { // in the order in which they stand
			x.Choices = append(x.Choices, formChoice{c, f.word(key, c), slices.Contains(have, c)})
		}
	case fieldEstimate:
		parts := [3]string{}
		if n != nil && n.Kind == yaml.SequenceNode && len(n.Content) == 3 {
			for i, e := range n.Content {
				parts[i] = e.Value
			}
		} else if n != nil {
			parts[1] = n.Value
		}
		for i, w := range []string{"least", "likely", "most"} {
			x.Fields = append(x.Fields, field{Kind: fieldNumber, Name: name + "." + w, Label: w, Value: parts[i]})
		}
	default:
		if n != nil {
			x.Value = n.Value
		}
		if x.Kind == fieldChoice {
			choices = s.Enum
		}
		if choices == nil {
			break
		}
		x.Kind = fieldChoice
		if !need || x.Value == "" {
			x.Choices = append(x.Choices, formChoice{"", cmp.Or(f.word(key, x.Default), "–"), x.Value == ""})
		}
		var have []string
		if x.Value != "" {
			have = []string{x.Value}
		}
		for _, c := range joined(choices, have...) {
			x.Choices = append(x.Choices, formChoice{c, f.word(key, c), c == x.Value})
		}
	}
	return x
}

// joined is a list with what else is in use, each once.
func joined(list []string, more ...string) []string {
	out := slices.Clone(list)
	for _, m := range more {
		if !slices.Contains(out, m) {
			out = append(out, m)
		}
	}
	return out
}

// known are the names that a key can refer to; nil for a key that refers to none.
func (f *former) known(key, name string) []string {
	p, list := f.p, []string{}
	of := func(n int, id func(int) string) []string {
		for i := range n {
			list = append(list, id(i))
		}
		return list
	}
	switch {
	case key == "calendar":
		return of(len(p.Calendars), func(i int) string { return p.Calendars[i].ID })
	case key == "crew":
		return of(len(p.Crews), func(i int) string { return p.Crews[i].ID })
	case key == "department":
		return of(len(p.Departments), func(i int) string { return p.Departments[i].ID })
	case key == "customer":
		return of(len(p.Customers), func(i int) string { return p.Customers[i].ID })
	case key == "truck":
		return of(len(p.Trucks), func(i int) string { return p.Trucks[i].ID })
	case key == "stage":
		return of(len(p.Route), func(i int) string { return p.Route[i].ID })
	case key == "station":
		return of(len(p.Line.Stations), func(i int) string { return p.Line.Stations[i].ID })
	case key == "start_in":
		return of(len(p.Parts), func(i int) string { return p.Parts[i].ID })
	case key == "wishes":
		return of(len(p.Wishes), func(i int) string { return p.Wishes[i].ID })
	case strings.HasPrefix(name, "f.holidays.") && (key == "add" || key == "drop"):
		sets := []string{"us-federal"}
		for i := range p.Calendars {
			for _, h := range p.Calendars[i].Rules.Holidays {
				sets = joined(sets, h.Set)
			}
		}
		for _, set := range sets {
			names, err := calendar.HolidayNames(set)
			if err != nil {
				continue // a set that the form will refuse
			}
			list = joined(list, names...)
		}
		return list
	case key == "bay" || key == "bay_kind":
		for i := range p.Bays {
			list = joined(list, p.Bays[i].Kinds...)
		}
		slices.Sort(list)
		return list
	}
	return nil
}

// word is a choice for people.
func (f *former) word(key, c string) string {
	p := f.p
	switch key {
	case "customer":
		if x := p.FindCustomer(c); x != nil {
			return x.Name
		}
	case "crew":
		if x := p.FindCrew(c); x != nil {
			return cmp.Or(x.Name, c)
		}
	case "department":
		if x := p.FindDepartment(c); x != nil {
			return cmp.Or(x.Name, c)
		}
	case "stage":
		return stageWords(p, c)
	}
	if key == "add" || key == "drop" {
		c = strings.ReplaceAll(c, "-", " ")
	}
	return plainWord(c)
}

// units are endings of keys that people read as units.
var units = []struct{ ending, unit string }{{"_ft", "ft"}, {"_gpm", "gpm"}, {"_hours", "hours"}, {"_days", "days"}, {"_dollars", "dollars"}, {"_parts", "parts of a day"}, {"_minutes", "minutes"}}

// labelOf is a key for people: max_length_ft is Max length, ft.
func labelOf(key string) string {
	unit := ""
	for _, u := range units {
		if k, ok := strings.CutSuffix(key, u.ending); ok && !strings.HasPrefix(u.ending[1:], k) {
			key, unit = k, ", "+u.unit
			break
		}
	}
	if key == "id" {
		return "Short name"
	}
	text := plainWord(key)
	return strings.ToUpper(text[:1]) + text[1:] + unit
}

// valueOf is the value of a key, nil for none.
func valueOf(n *yaml.Node, key string) *yaml.Node {
	if n == nil || n.Kind != yaml.MappingNode {
		return nil
	}
	for i := 0; i+1 < len(n.Content); i += 2 {
		if n.Content[i].Value == key {
			return n.Content[i+1]
		}
	}
	return nil
}

// nodeOf reads a piece of the plant.
func nodeOf(text string) (*yaml.Node, error) {
	var n yaml.Node
	if err := yaml.Unmarshal([]byte(text), &n); err != nil {
		return nil, err
	}
	if len(n.Content) == 0 {
		return nil, nil
	}
	return n.Content[0], nil
}

// mostRows bounds the rows that a form may have.
const mostRows = 1000

// read makes the value of a shape out of a form as it was sent; nil for what was left
// empty. old is the value before, for what the form does not speak of.
func (f *former) read(s *shape, form url.Values, old *yaml.Node, path string) any {
	one := strings.TrimSpace(form.Get(path))
	switch s.kind() {
	case fieldGroup:
		m := map[string]any{}
		for _, k := range s.keys() {
			if path == "f" && slices.Contains(elsewhere[f.noun], k) {
				if n := valueOf(old, k); n != nil {
					m[k] = plainValue(n)
				}
				continue
			}
			if x := f.read(s.Properties[k], form, nil, path+"."+k); x != nil {
				m[k] = x
			}
		}
		if len(m) == 0 && path != "f" {
			return nil
		}
		return m
	case fieldRows:
		o, _ := s.Items.object()
		var list []any
		for _, i := range rowsSent(form, path) {
			if x := f.read(o, form, nil, path+"."+i); x != nil {
				list = append(list, x)
			}
		}
		return orNil(list)
	case fieldSeveral, fieldLines:
		var list []any
		for _, sent := range form[path] { // boxes, or one text with lines
			for line := range strings.Lines(sent) {
				if line = strings.TrimSpace(line); line != "" {
					list = append(list, line)
				}
			}
		}
		return orNil(list)
	case fieldEstimate:
		least, likely, most := form.Get(path+".least"), form.Get(path+".likely"), form.Get(path+".most")
		switch {
		case least+likely+most == "":
			return nil
		case least+most == "":
			return figure(likely)
		}
		return []any{figure(least), figure(likely), figure(most)}
	case fieldCheck:
		if one == "" {
			return nil
		}
		return true
	case fieldNumber:
		if one == "" {
			return nil
		}
		return figure(one)
	}
	if one == "" {
		return nil
	}
	return one
}

func orNil(list []any) any {
	if len(list) == 0 {
		return nil
	}
	return list
}

// rowsSent are the numbers of the rows of a table that was sent, in their order.
func rowsSent(form url.Values, path string) (list []string) {
	for i := range mostRows {
		lead := fmt.Sprintf("%s.%d.", path, i)
		if !slices.ContainsFunc(slices.Sorted(maps.Keys(form)), func(k string) bool { return strings.HasPrefix(k, lead) }) {
			break
		}
		list = append(list, fmt.Sprint(i))
	}
	return list
}

// numeric is what JSON takes for a number.
var numeric = regexp.MustCompile(`^-?(0|[1-9][0-9]*)(\.[0-9]+)?$`)

// plainValue is a node as JSON has it. Days and clock times are text, as in the file.
func plainValue(n *yaml.Node) any {
	switch n.Kind {
	case yaml.MappingNode:
		m := map[string]any{}
		for i := 0; i+1 < len(n.Content); i += 2 {
			m[n.Content[i].Value] = plainValue(n.Content[i+1])
		}
		return m
	case yaml.SequenceNode:
		list := []any{}
		for _, e := range n.Content {
			list = append(list, plainValue(e))
		}
		return list
	}
	switch tag := n.ShortTag(); {
	case tag == "!!bool":
		return n.Value == "true"
	case (tag == "!!int" || tag == "!!float") && numeric.MatchString(n.Value):
		return json.Number(n.Value)
	}
	return n.Value
}
