package rest

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"sync"

	"go.yaml.in/yaml/v3"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver/plant"
)

// number is what JSON takes for one.
var number = regexp.MustCompile(`^-?(0|[1-9][0-9]*)(\.[0-9]+)?$`)

// toJSON writes YAML in the form of the plant file as JSON with the same keys in the same
// order. Days and clock times are text, as they are in the file.
func toJSON(text []byte) (json.RawMessage, error) {
	var n yaml.Node
	if err := yaml.Unmarshal(text, &n); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := appendNode(&b, &n); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// A memo keeps what texts of pieces are as JSON: most are asked for again and again, and
// few change. What it gives must not be changed.
type memo struct {
	mu    sync.Mutex
	known map[string]json.RawMessage
	size  int // bytes of text in known
}

// mostKnown is how much text a memo holds before it begins anew: that of some plants.
const mostKnown = 4 << 20

// toJSON is toJSON of a piece.
func (m *memo) toJSON(text string) (json.RawMessage, error) {
	m.mu.Lock()
	body, ok := m.known[text]
	m.mu.Unlock()
	if ok {
		return body, nil
	}
	body, err := toJSON([]byte(text))
	if err != nil {
		return nil, err
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.known == nil || m.size > mostKnown {
		m.known, m.size = map[string]json.RawMessage{}, 0
	}
	m.known[text] = body
	m.size += len(text)
	return body, nil
}

// whole is a plant file as JSON, put together of its pieces.
func (m *memo) whole(pieces []plant.Piece) ([]byte, error) {
	entries, err := plant.Entries(pieces)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	b.WriteByte('{')
	if err := m.entries(&b, entries, false); err != nil {
		return nil, err
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// entries writes entries one after the other, after others or not.
func (m *memo) entries(b *bytes.Buffer, list []plant.Entry, after bool) error {
	for i, e := range list {
		if after || i > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(b, "%q:", e.Key)
		switch {
		case e.Of != nil:
			body, err := m.toJSON(e.Text)
			if err != nil {
				return err
			}
			b.Write(bytes.TrimSuffix(body, []byte("}")))
			if err := m.entries(b, e.Of, true); err != nil {
				return err
			}
			b.WriteByte('}')
		case e.Text != "" && len(e.Rows) == 0:
			body, err := m.toJSON(e.Text)
			if err != nil {
				return err
			}
			b.Write(body)
		default:
			b.WriteByte('[')
			for i, row := range e.Rows {
				body, err := m.toJSON("[" + row + "]") // some rows are several
				if err != nil {
					return err
				}
				if i > 0 {
					b.WriteByte(',')
				}
				b.Write(body[1 : len(body)-1])
			}
			b.WriteByte(']')
		}
	}
	return nil
}

func appendNode(b *bytes.Buffer, n *yaml.Node) error {
	open, shut := byte('['), byte(']')
	switch n.Kind {
	case yaml.DocumentNode:
		return appendNode(b, n.Content[0])
	case yaml.ScalarNode:
		return appendScalar(b, n)
	case yaml.MappingNode:
		open, shut = '{', '}'
	case yaml.SequenceNode:
	default:
		return fmt.Errorf("line %d: neither value, list nor keys", n.Line)
	}
	b.WriteByte(open)
	for i, c := range n.Content {
		switch {
		case n.Kind == yaml.MappingNode && i%2 == 1:
			b.WriteByte(':')
		case i > 0:
			b.WriteByte(',')
		}
		if n.Kind == yaml.MappingNode && i%2 == 0 {
			c = &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str", Value: c.Value}
		}
		if err := appendNode(b, c); err != nil {
			return err
		}
	}
	b.WriteByte(shut)
	return nil
}

func appendScalar(b *bytes.Buffer, n *yaml.Node) error {
	switch tag := n.ShortTag(); {
	case tag == "!!null":
		b.WriteString("null")
		return nil
	case tag == "!!bool" && (n.Value == "true" || n.Value == "false"),
		(tag == "!!int" || tag == "!!float") && number.MatchString(n.Value):
		b.WriteString(n.Value)
		return nil
	}
	text, err := json.Marshal(n.Value)
	b.Write(text)
	return err
}

// keyOf is the piece of the plant that a route for nouns or settings is about.
func (x *exchange) keyOf() string {
	key := strings.TrimPrefix(strings.TrimSuffix(x.route.path, "/history"), "/")
	if noun, _, named := strings.Cut(key, "/"); named && noun != "plant" {
		return noun + "/" + x.Param("id")
	}
	return strings.TrimPrefix(key, "plant/")
}

// getPiece gives one named part of the plant, or one setting, with the keys of the plant
// file.
func getPiece(x *exchange) error {
	t, err := x.app.Thing(x.Request().Context(), x.who, x.keyOf())
	if err != nil {
		return err
	}
	if x.current(t.Changed) {
		return x.unchanged()
	}
	return x.piece(t.Text)
}

func (x *exchange) piece(text string) error {
	body, err := x.s.pieces.toJSON(text)
	if err != nil {
		return err
	}
	return x.JSONBlob(http.StatusOK, body)
}

// listPieces gives all parts of one noun, by name, those that pass the filters.
func listPieces(x *exchange) error {
	noun := strings.TrimPrefix(x.route.path, "/")
	things, revision, err := x.app.Things(x.Request().Context(), x.who, noun)
	if err != nil {
		return err
	}
	limit, err := x.limit()
	if err != nil {
		return err
	}
	if x.current(revision) {
		return x.unchanged()
	}
	passes, err := x.filter(noun)
	if err != nil {
		return err
	}
	after := x.QueryParam("after")
	var items []api.Thing
	for _, t := range things {
		if _, id, _ := strings.Cut(t.Key, "/"); id > after && len(items) <= limit && passes(id) {
			items = append(items, t)
		}
	}
	bodies := make([]json.RawMessage, len(items))
	for i, t := range items {
		if bodies[i], err = x.s.pieces.toJSON(t.Text); err != nil {
			return err
		}
	}
	at := -1
	return paged(x, "after", items, limit, func(t api.Thing) string {
		_, id, _ := strings.Cut(t.Key, "/")
		return id
	}, func(api.Thing) json.RawMessage { at++; return bodies[at] })
}

// filter is which parts of a noun are asked for, by name.
func (x *exchange) filter(noun string) (func(id string) bool, error) {
	q := x.QueryParams()
	if x.route.query == pageQuery || !slices.ContainsFunc(strings.Fields(x.route.query), func(name string) bool { return q.Get(name) != "" }) {
		return func(string) bool { return true }, nil
	}
	s, err := x.app.State(x.Request().Context(), x.who, 0)
	if err != nil {
		return nil, err
	}
	p := s.Plant
	is := func(name, value string) bool { return q.Get(name) == "" || q.Get(name) == value }
	if noun == "trucks" {
		return func(id string) bool {
			t := p.FindTruck(id)
			return t != nil && is("customer", t.Customer) && is("kind", t.Kind)
		}, nil
	}
	from, err := aDay("from", q.Get("from"))
	if err != nil {
		return nil, err
	}
	through, err := aDay("through", q.Get("through"))
	if err != nil {
		return nil, err
	}
	return func(id string) bool {
		v := p.FindVisit(id)
		if v == nil {
			return false
		}
		day := v.Booking.Day
		if o := planned(p, id); o != nil && day == calendar.None {
			day = o.Day
		}
		t := p.FindTruck(v.Truck)
		return is("state", v.Booking.State) && is("truck", v.Truck) && is("kind", v.Kind) && (t == nil || is("customer", t.Customer)) &&
			(from == calendar.None || day >= from) && (through == calendar.None || day != calendar.None && day <= through)
	}, nil
}

// planned is what the plan in force makes of a visit, nil for nothing.
func planned(p *plant.Plant, visit string) *plant.PlannedVisit {
	if p.Plan == nil {
		return nil
	}
	for i := range p.Plan.Visits {
		if p.Plan.Visits[i].Visit == visit {
			return &p.Plan.Visits[i]
		}
	}
	return nil
}

// putPiece sets a part of the plant, or a setting.
func putPiece(x *exchange) error {
	if err := x.isJSON(); err != nil {
		return err
	}
	if err := x.oneValue(); err != nil {
		return err
	}
	key := x.keyOf()
	i, err := x.intent(key)
	if err != nil {
		return err
	}
	s, err := x.app.Put(x.Request().Context(), x.who, i, key, x.body)
	if err != nil {
		return err
	}
	return x.changed(s)
}

// oneValue looks whether the body is one JSON value.
func (x *exchange) oneValue() error {
	if !json.Valid(x.body) {
		return unreadable("The body is not one JSON value.", "Send one JSON value with the keys of the plant file, and nothing after it.")
	}
	return nil
}

// dropPiece takes a part of the plant away.
func dropPiece(x *exchange) error {
	key := x.keyOf()
	i, err := x.intent(key)
	if err != nil {
		return err
	}
	s, err := x.app.Drop(x.Request().Context(), x.who, i, key)
	if err != nil {
		return err
	}
	return x.changed(s)
}

// A wireVersion is a part of the plant as one revision left it.
type wireVersion struct {
	Revision int64           `json:"revision"`
	Value    json.RawMessage `json:"value"` // null where the revision took it away
}

// getHistory gives every version of a part of the plant, the oldest first.
func getHistory(x *exchange) error {
	versions, err := x.app.History(x.Request().Context(), x.who, x.keyOf())
	if err != nil {
		return err
	}
	out := list[wireVersion]{Items: []wireVersion{}}
	for _, v := range versions {
		w := wireVersion{Revision: v.Revision, Value: json.RawMessage("null")}
		if v.Text != "" {
			if w.Value, err = toJSON([]byte(v.Text)); err != nil {
				return err
			}
		}
		out.Items = append(out.Items, w)
	}
	return x.JSON(http.StatusOK, out)
}
