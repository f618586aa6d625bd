package plant

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
)

// A Piece is a part of a plant file that is kept by itself, so that a change
// writes no more than it changes: one truck, one visit, one bay, the work that
// the plan has for one truck, the price list. Text is YAML on one line.
//
// Keys are those of the file. An element of a list whose elements have names is
// "trucks/J-2041", and the piece "trucks" has the names in their order, one a
// line. The rows of the plan are "plan/stages/J-2041", by truck, and
// "plan/visits/V-7".
type Piece struct {
	Key  string
	Text string
}

// Keys of the pieces of a plan.
const (
	planPiece   = "plan"
	planStages  = "plan/stages/"
	planVisits  = "plan/visits"
	stagesOfKey = "stages"
	visitsOfKey = "visits"
)

// Split cuts the plant into pieces, sorted by key. Join puts them together.
func Split(p *Plant) []Piece { return split(p, &writer{}) }

// SplitWhole is Split with the lists that are the standard ones spelled out, which a
// plant file leaves out.
func SplitWhole(p *Plant) []Piece { return split(p, &writer{whole: true}) }

func split(p *Plant, w *writer) []Piece {
	w.push("", isKeys, true)
	plantKeys(w, p)
	var list []Piece
	for _, n := range w.stack[0].kids {
		switch {
		case n.key == planPiece:
			list = append(list, n.planPieces()...)
		case n.named():
			list = append(list, n.elements(n.key)...)
		default:
			list = append(list, Piece{n.key, n.line()})
		}
	}
	slices.SortFunc(list, func(a, b Piece) int { return strings.Compare(a.Key, b.Key) })
	return list
}

// named reports whether the value is a list of elements that each begin with
// their name.
func (n *printed) named() bool {
	return n.shape == isList && len(n.kids) > 0 && !slices.ContainsFunc(n.kids, func(k *printed) bool {
		return k.shape != isKeys || len(k.kids) == 0 || k.kids[0].key != "id"
	})
}

// line is the value as text on one line.
func (n *printed) line() string {
	var b bytes.Buffer
	n.flow(&b)
	return b.String()
}

// elements cuts a list into its elements, by their first key, and their order.
func (n *printed) elements(under string) []Piece {
	list := make([]Piece, 0, len(n.kids)+1)
	var order []string
	for _, k := range n.kids {
		name := k.kids[0].text
		order = append(order, name)
		list = append(list, Piece{under + "/" + name, k.line()})
	}
	return append(list, Piece{under, strings.Join(order, "\n")})
}

// planPieces cuts a plan into its head, its rows by truck and its visits.
func (n *printed) planPieces() []Piece {
	head := *n
	head.kids = nil
	var list []Piece
	for _, k := range n.kids {
		switch k.key {
		case stagesOfKey:
			for rows := k.kids; len(rows) > 0; {
				truck := rows[0].kids[0].text
				end := slices.IndexFunc(rows, func(r *printed) bool { return r.kids[0].text != truck })
				if end < 0 {
					end = len(rows)
				}
				text := make([]string, end)
				for i, r := range rows[:end] {
					text[i] = r.line()
				}
				list = append(list, Piece{planStages + truck, strings.Join(text, ", ")})
				rows = rows[end:]
			}
		case visitsOfKey:
			list = append(list, k.elements(planVisits)...)
		default:
			head.kids = append(head.kids, k)
		}
	}
	return append(list, Piece{planPiece, head.line()})
}

// An Entry is one key of a plant file, put together of its pieces: a value on one line, or
// the elements of a list. That of the plan is a value without its rows, which are
// entries of it.
type Entry struct {
	Key  string
	Text string
	Rows []string // of a list that is kept in pieces
	Of   []Entry  // of the plan: its stages and visits
}

// Entries puts pieces, sorted by key, together. Pieces that do not fit together are an error:
// the order of a list must name exactly its elements.
func Entries(pieces []Piece) (list []Entry, err error) {
	plan := Entry{Key: planPiece, Of: []Entry{{Key: stagesOfKey}, {Key: visitsOfKey}}}
	stages, visits := &plan.Of[0], &plan.Of[1]
	for len(pieces) > 0 {
		p := pieces[0]
		pieces = pieces[1:]
		if text, ok := strings.CutPrefix(p.Key, planStages); ok && text != "" {
			stages.Rows = append(stages.Rows, p.Text)
			continue
		}
		if p.Key == planPiece {
			plan.Text = p.Text
			continue
		}
		rows, err := elementsOf(p, pieces)
		pieces = pieces[len(rows):]
		switch {
		case err != nil:
			return nil, err
		case p.Key == planVisits:
			visits.Rows = rows
		case strings.Contains(p.Key, "/"):
			return nil, fmt.Errorf("piece %s: the order of its list is missing", p.Key)
		default:
			list = append(list, Entry{Key: p.Key, Text: p.Text, Rows: rows})
		}
	}
	switch {
	case plan.Text != "":
		list = append(list, plan)
	case len(stages.Rows)+len(visits.Rows) > 0:
		return nil, fmt.Errorf("there are rows of a plan and no piece %s", planPiece)
	}
	return list, nil
}

// Join puts pieces, sorted by key, together to the text of a plant file, which
// Read takes. Its errors are those of Entries.
func Join(pieces []Piece) ([]byte, error) {
	entries, err := Entries(pieces)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	for _, p := range entries {
		switch {
		case p.Of != nil:
			fmt.Fprintf(&b, "%s: %s,\n", p.Key, strings.TrimSuffix(p.Text, "}"))
			for i, rows := range p.Of {
				end := [...]string{",\n", "}\n"}[i]
				fmt.Fprintf(&b, "  %s: [\n    %s]%s", rows.Key, strings.Join(rows.Rows, ",\n    "), end)
			}
		case len(p.Rows) == 0:
			fmt.Fprintf(&b, "%s: %s\n", p.Key, p.Text)
		default:
			fmt.Fprintf(&b, "%s:\n  - %s\n", p.Key, strings.Join(p.Rows, "\n  - "))
		}
	}
	return b.Bytes(), nil
}

// elementsOf returns the texts of the elements of a list, which begin the pieces, in
// the order given. A piece of another kind has none.
func elementsOf(order Piece, pieces []Piece) ([]string, error) {
	byName := map[string]string{}
	for _, p := range pieces {
		name, ok := strings.CutPrefix(p.Key, order.Key+"/")
		if !ok {
			break
		}
		byName[name] = p.Text
	}
	if len(byName) == 0 {
		return nil, nil
	}
	var list []string
	for name := range strings.SplitSeq(order.Text, "\n") {
		text, ok := byName[name]
		if !ok {
			return nil, fmt.Errorf("piece %s names %s, and there is no piece %s/%s", order.Key, name, order.Key, name)
		}
		list = append(list, text)
	}
	if len(list) != len(byName) {
		return nil, fmt.Errorf("piece %s names %d elements, and there are %d", order.Key, len(list), len(byName))
	}
	return list, nil
}

// A PieceChange is a piece that differs between two plants.
type PieceChange struct {
	Key           string
	Before, After string // "" where there is none
}

// Diff compares pieces sorted by key, and returns what differs in that order.
func Diff(before, after []Piece) []PieceChange {
	var list []PieceChange
	for len(before)+len(after) > 0 {
		order := 0
		switch {
		case len(before) == 0:
			order = 1
		case len(after) == 0:
			order = -1
		default:
			order = strings.Compare(before[0].Key, after[0].Key)
		}
		c := PieceChange{}
		if order <= 0 {
			c.Key, c.Before = before[0].Key, before[0].Text
			before = before[1:]
		}
		if order >= 0 {
			c.Key, c.After = after[0].Key, after[0].Text
			after = after[1:]
		}
		if c.Before != c.After {
			list = append(list, c)
		}
	}
	return list
}
