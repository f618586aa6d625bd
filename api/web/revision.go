package web

import (
	"cmp"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"wetdown/api"
	"wetdown/solver/plant"
)

type revisionsData struct {
	List  []api.Revision
	Next  int64 // where older ones begin, 0 for none
	First bool  // the newest are shown
}

const revisionsShown = 60

func (w *Web) revisions(v *view) error {
	before, _ := strconv.ParseInt(v.r.FormValue("before"), 10, 64)
	list, err := w.app.Revisions(v.ctx, v.Who, max(before, 0), revisionsShown)
	if err != nil {
		return err
	}
	d := revisionsData{List: list, First: before <= 0}
	if n := len(list); n == revisionsShown && list[n-1].Number > 1 {
		d.Next = list[n-1].Number
	}
	v.Title, v.Place, v.Data = "Revisions", "revisions", d
	v.show(http.StatusOK, "revisions")
	return nil
}

type revisionData struct {
	Revision api.Revision
	Changes  []pieceWords
	Added    []pieceWords
	Gone     []pieceWords
	More     int // changes that are not listed
	Counts   []string
	Newest   int64
}

// pieceWords is a change of one piece of the plant for people.
type pieceWords struct {
	Name, To string // to a page about it
	What     string // added, taken away, changed
	Fields   []fieldWords
}

type fieldWords struct{ Name, Before, After string }

func (w *Web) revision(v *view) error {
	n, err := strconv.ParseInt(v.r.PathValue("number"), 10, 64)
	if err != nil {
		return noRevision()
	}
	r, list, err := w.app.Changes(v.ctx, v.Who, n)
	if err != nil {
		return err
	}
	d := revisionData{Revision: r, Newest: v.State.Revision.Number}
	told, more, counts := v.piecesOf(list)
	d.More, d.Counts = more, counts
	for _, p := range told {
		switch p.What {
		case "added":
			d.Added = append(d.Added, p)
		case "taken away":
			d.Gone = append(d.Gone, p)
		default:
			d.Changes = append(d.Changes, p)
		}
	}
	v.Title, v.Place, v.Data = "Revision "+strconv.FormatInt(n, 10), "revisions", d
	v.show(http.StatusOK, "revision")
	return nil
}

func noRevision() *api.Problem {
	return &api.Problem{Kind: api.NotFound, Title: "There is no such revision", Next: "Look it up in the list of revisions."}
}

// undo takes a revision back.
func (w *Web) undo(v *view) error {
	n, err := strconv.ParseInt(v.r.PathValue("number"), 10, 64)
	if err != nil {
		return noRevision()
	}
	if _, err := w.app.Undo(v.ctx, v.Who, api.Intent{Why: v.r.PostFormValue("why")}, n); err != nil {
		return err
	}
	return v.back(inside(v.r.PostFormValue("to")))
}

// pieceOf says a change of a piece. Orders of names, which follow from what is added and
// taken away, have no name.
func (v *view) pieceOf(c plant.PieceChange) (p pieceWords) {
	noun, name, named := strings.Cut(c.Key, "/")
	switch {
	case noun == "plan" && strings.HasPrefix(name, "stages/"):
		id := strings.TrimPrefix(name, "stages/")
		p.Name, p.To = "Work planned on truck "+id, "/trucks/"+id
	case noun == "plan" && strings.HasPrefix(name, "visits/"):
		id := strings.TrimPrefix(name, "visits/")
		p.Name, p.To = "Visit "+id+" in the plan", "/visits/"+id
	case noun == "plan":
		p.Name = "The plan"
	case noun == "trucks" && named:
		p.Name, p.To = "Truck "+name, "/trucks/"+name
	case noun == "visits" && named:
		p.Name, p.To = "Visit "+name, "/visits/"+name
	case noun == "slips" && named:
		p.Name, p.To = "Slip "+name, "/slips"
	case named:
		p.Name = plainWord(strings.TrimSuffix(noun, "s")) + " " + name
	case v.lists(noun):
		return p
	default:
		p.Name = "The plant’s " + plainWord(noun)
	}
	switch {
	case c.Before == "":
		p.What = "added"
	case c.After == "":
		p.What = "taken away"
	default:
		p.What = "changed"
		p.Fields = differing("", plainWord, c.Before, c.After)
		if strings.HasPrefix(name, "stages/") { // a list, also with one row in it
			p.Fields = differing("", func(id string) string { return stageWords(v.State.Plant, id) }, "["+c.Before+"]", "["+c.After+"]")
		}
	}
	return p
}

// lists reports whether a noun of the plant is a list of named things.
func (v *view) lists(noun string) bool {
	return slices.Contains([]string{"bays", "calendars", "crews", "customers", "departments", "measures", "notice", "parts", "route", "slips", "trucks", "visits", "wishes", "plan/visits"}, noun)
}

// differing are the values that differ between two versions of a piece, or of one of its
// fields. A list is taken apart by what its elements are about; say is how these are
// called, and lead what the whole is.
func differing(lead string, say func(name string) string, before, after string) (list []fieldWords) {
	one, other := parted(before), parted(after)
	if one == nil || other == nil {
		return []fieldWords{{strings.TrimSpace(lead), inWords(before), inWords(after)}}
	}
	for _, e := range one {
		switch is := named(other, e.name); {
		case is == "":
			list = append(list, fieldWords{lead + say(e.name), inWords(e.text), ""})
		case is != e.text:
			list = append(list, differing(lead+say(e.name)+" ", plainWord, e.text, is)...)
		}
	}
	for _, e := range other {
		if named(one, e.name) == "" {
			list = append(list, fieldWords{lead + say(e.name), "", inWords(e.text)})
		}
	}
	return list
}

// An element of a list, or a field, with what it is about.
type element struct{ name, text string }

func named(list []element, name string) string {
	for _, e := range list {
		if e.name == name {
			return e.text
		}
	}
	return ""
}

// parted is text in the form of a plant file on one line as its fields, or as its
// elements by name; nil for what cannot be taken apart so.
func parted(text string) (list []element) {
	parts := elementsOf(text)
	if len(parts) == 1 && strings.HasPrefix(text, "{") {
		for _, k := range keysOf(text) {
			list = append(list, element{k, fieldsOf(text)[k]})
		}
		return list
	}
	if inner, ok := strings.CutPrefix(text, "["); ok && len(parts) == 1 {
		parts = elementsOf(strings.TrimSuffix(inner, "]"))
	}
	for _, e := range parts {
		f := fieldsOf(e)
		name := cmp.Or(f["id"], f["stage"], f["name"], f["on"], f["from"])
		if name == "" || named(list, name) != "" {
			return nil
		}
		list = append(list, element{name, e})
	}
	return list
}

// inWords is a value in the form of the plant file as people say it, within bounds.
func inWords(text string) string {
	const most = 240
	if n, err := nodeOf(text); err == nil && n != nil {
		text = spoken(n, "")
	}
	if r := []rune(text); len(r) > most {
		return string(r[:most]) + "…"
	}
	return text
}

// coined are words of the plant file that stand for several words.
var coined = regexp.MustCompile(`^[a-z]+(_[a-z]+)+$`)

// spoken is a node of the plant file without its marks. key is what it is the value of.
func spoken(n *yaml.Node, key string) string {
	var list []string
	switch n.Kind {
	case yaml.MappingNode:
		from, through := valueOf(n, "from"), valueOf(n, "through")
		for i := 0; i+1 < len(n.Content); i += 2 {
			switch k := n.Content[i].Value; {
			case from == nil || through == nil || k != "from" && k != "through":
				list = append(list, keyed(k, n.Content[i+1]))
			case k == "from":
				list = append(list, from.Value+" to "+through.Value)
			}
		}
		return cmp.Or(strings.Join(list, ", "), "nothing")
	case yaml.SequenceNode:
		between := ", "
		for _, e := range n.Content {
			if e.Kind != yaml.ScalarNode {
				between = "; "
			}
			list = append(list, spoken(e, key))
		}
		return cmp.Or(strings.Join(list, between), "none")
	}
	switch {
	case n.ShortTag() == "!!bool" && n.Value == "true":
		return "yes"
	case n.ShortTag() == "!!bool":
		return "no"
	case key != "id" && coined.MatchString(n.Value):
		return plainWord(n.Value)
	}
	return n.Value
}

// keyed says a value with what it is the value of.
func keyed(key string, n *yaml.Node) string {
	words, unit := plainWord(key), ""
	for _, u := range units {
		if k, ok := strings.CutSuffix(key, u.ending); ok {
			words, unit = plainWord(k), " "+u.unit
			break
		}
	}
	switch text := spoken(n, key); {
	case n.Kind != yaml.ScalarNode && len(n.Content) > 0:
		return words + " (" + text + ")" + unit
	case n.ShortTag() == "!!bool" && text == "yes":
		return words
	case key == "id" || key == "name":
		return text
	default:
		return words + " " + text + unit
	}
}

// elementsOf cuts text in the form of a plant file on one line at the commas that lie in
// nothing.
func elementsOf(text string) []string {
	var list []string
	from, depth := 0, 0
	for i := 0; i < len(text); i++ {
		switch text[i] {
		case '{', '[':
			depth++
		case '}', ']':
			depth--
		case '"':
			for i++; i < len(text) && text[i] != '"'; i++ {
				if text[i] == '\\' {
					i++
				}
			}
		case '\'':
			if i > 0 && text[i-1] != ' ' && text[i-1] != '[' && text[i-1] != '{' {
				continue // an apostrophe within a word
			}
			for i++; i < len(text) && text[i] != '\''; i++ {
			}
		case ',':
			if depth == 0 {
				list = append(list, strings.TrimSpace(text[from:i]))
				from = i + 1
			}
		}
	}
	if last := strings.TrimSpace(text[min(from, len(text)):]); last != "" {
		list = append(list, last)
	}
	return list
}

// fieldsOf are the values of {key: value, ...} by key; none for other text.
func fieldsOf(text string) map[string]string {
	m := map[string]string{}
	if !strings.HasPrefix(text, "{") || !strings.HasSuffix(text, "}") {
		return m
	}
	for _, e := range elementsOf(text[1 : len(text)-1]) {
		k, x, _ := strings.Cut(e, ":")
		m[k] = strings.TrimSpace(x)
	}
	return m
}

func keysOf(text string) (list []string) {
	if !strings.HasPrefix(text, "{") || !strings.HasSuffix(text, "}") {
		return nil
	}
	for _, e := range elementsOf(text[1 : len(text)-1]) {
		k, _, _ := strings.Cut(e, ":")
		list = append(list, k)
	}
	return list
}
