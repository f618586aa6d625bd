package api

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/plant"
)

// The nouns of the plant that are kept by name, in the words of the plant file, and
// the act that it takes to change one.
var namedNouns = map[string]string{
	"bays":        ActSetUp,
	"calendars":   ActSetUp,
	"crews":       ActSetUp,
	"customers":   ActSetUp,
	"departments": ActSetUp,
	"measures":    ActSetUp,
	"notice":      ActSetUp,
	"parts":       ActSetUp,
	"route":       ActSetUp,
	"trucks":      ActSetUp,
	"visits":      ActBook,
	"wishes":      ActSetUp,
}

// Settings of the plant that are one piece each.
var settings = []string{"buffer", "calendar", "horizon", "line", "name", "prices", "zone"}

// singular is a noun of the plant file as people say it of one thing.
func singular(noun string) string {
	switch noun {
	case "wishes":
		return "wish"
	case "buffer", "line", "notice", "route":
		return noun
	}
	return strings.TrimSuffix(noun, "s")
}

// A Thing is one named noun of the plant, or one setting, as text in the form of the
// plant file.
type Thing struct {
	Key     string // such as trucks/J-2041 or prices
	Text    string // YAML on one line
	Changed int64  // the revision that last changed it
}

// Thing returns one piece of the plant.
func (a *App) Thing(ctx context.Context, who Actor, key string) (Thing, error) {
	if err := who.must(ActRead); err != nil {
		return Thing{}, err
	}
	t := Thing{Key: key}
	err := a.store.View(ctx, func(tx Tx) error {
		s, err := a.headIn(tx)
		if err != nil {
			return err
		}
		noun, _, _ := strings.Cut(key, "/")
		pieces := s.spelled(noun)
		at, ok := slices.BinarySearchFunc(pieces, key, func(p plant.Piece, k string) int { return strings.Compare(p.Key, k) })
		if !ok {
			return noThing(s, key)
		}
		t.Text = pieces[at].Text
		if t.Changed, err = tx.Changed(key); errors.Is(err, ErrNone) { // of a standard list
			t.Changed, err = 1, nil
		}
		return err
	})
	return t, err
}

// Things returns all pieces of a noun, sorted by name, with the revision that they are
// of.
func (a *App) Things(ctx context.Context, who Actor, noun string) (list []Thing, revision int64, err error) {
	if err := who.must(ActRead); err != nil {
		return nil, 0, err
	}
	s, err := a.head(ctx)
	if err != nil {
		return nil, 0, err
	}
	for _, p := range s.spelled(noun) {
		if strings.HasPrefix(p.Key, noun+"/") {
			list = append(list, Thing{Key: p.Key, Text: p.Text})
		}
	}
	return list, s.Revision.Number, nil
}

// History returns every version of a piece, the oldest first: what was promised,
// projected and booked, and when.
func (a *App) History(ctx context.Context, who Actor, key string) (list []PieceVersion, err error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		if list, err = tx.Versions(key); errors.Is(err, ErrNone) || err == nil && len(list) == 0 {
			s, err := a.headIn(tx)
			if err != nil {
				return err
			}
			return noThing(s, key)
		}
		return err
	})
	return list, err
}

// spelled are the pieces of the plant, those of a noun also where they are a standard
// list, which a plant file leaves out.
func (s *State) spelled(noun string) []plant.Piece {
	of := func(p plant.Piece) bool { return strings.HasPrefix(p.Key, noun+"/") || p.Key == noun }
	if _, named := namedNouns[noun]; !named || slices.ContainsFunc(s.pieces, of) {
		return s.pieces
	}
	pieces := slices.Clone(s.pieces)
	lists := *s.Plant
	lists.Trucks, lists.Visits, lists.Plan = nil, nil, nil // of which nothing is standard, and which are most of it
	for _, p := range plant.SplitWhole(&lists) {
		if of(p) {
			pieces = append(pieces, p)
		}
	}
	slices.SortFunc(pieces, func(a, b plant.Piece) int { return strings.Compare(a.Key, b.Key) })
	return pieces
}

func noThing(s *State, key string) error {
	noun, name, _ := strings.Cut(key, "/")
	var known []string
	for _, p := range s.spelled(noun) {
		if n, ok := strings.CutPrefix(p.Key, noun+"/"); ok {
			known = append(known, n)
		}
	}
	return noSuch(singular(noun), name, known)
}

// Put sets a thing: one that is there, or a new one. The text is JSON with the keys of
// the plant file. The plan in force stays as it is, even where it no longer fits;
// Fit says so. Bookings are not set in this way, but by Book.
func (a *App) Put(ctx context.Context, who Actor, i Intent, key string, text []byte) (*State, error) {
	act, f, err := put(key, text)
	if err != nil {
		return nil, err
	}
	return a.change(ctx, who, act, i, f)
}

// put is the step that sets a thing, and the act that it takes.
func put(key string, text []byte) (string, step, error) {
	noun, name, named := strings.Cut(key, "/")
	act, err := actOn(noun, named)
	if err != nil {
		return "", nil, err
	}
	line, err := oneLine(text)
	if err != nil {
		return "", nil, err
	}
	return act, func(s *State) (*next, error) {
		pieces := slices.Clone(s.spelled(noun))
		at, there := slices.BinarySearchFunc(pieces, key, func(p plant.Piece, k string) int { return strings.Compare(p.Key, k) })
		what := "changed"
		if there {
			pieces[at].Text = line
		} else {
			pieces = slices.Insert(pieces, at, plant.Piece{Key: key, Text: line})
			if named {
				what = "added"
				pieces = inList(pieces, noun, func(names []string) []string { return append(names, name) })
			}
		}
		p, err := s.together(pieces)
		if err != nil {
			return nil, err
		}
		if noun == "visits" {
			if err := bookingStays(s.Plant, p, name); err != nil {
				return nil, err
			}
		}
		if named && !slices.ContainsFunc(plant.SplitWhole(p), func(x plant.Piece) bool { return x.Key == key }) {
			return nil, invalid("id", fmt.Sprintf("The %s says another id than %q.", singular(noun), name), "Write the id that the address has.")
		}
		if noun == "visits" && !there {
			p = expected(p, name)
		}
		return &next{plant: p, what: sentenceOf(noun, name, what)}, nil
	}, nil
}

// expected is the plant with a new visit that the plan has no day for yet.
func expected(p *plant.Plant, visit string) *plant.Plant {
	if p.Plan == nil || !p.FindVisit(visit).Planned() {
		return p
	}
	plan := *p.Plan
	plan.Visits = append(slices.Clone(plan.Visits), plant.PlannedVisit{Visit: visit, Outcome: plant.Broken, Day: calendar.None})
	slices.SortFunc(plan.Visits, func(x, y plant.PlannedVisit) int { return strings.Compare(x.Visit, y.Visit) })
	plan.Revision++
	plan.Status = plant.Feasible
	out := *p
	out.Plan = rescored(p, &plan)
	return &out
}

// Drop takes a named thing away. What others rest on cannot go: the problem says who.
func (a *App) Drop(ctx context.Context, who Actor, i Intent, key string) (*State, error) {
	act, f, err := drop(key)
	if err != nil {
		return nil, err
	}
	return a.change(ctx, who, act, i, f)
}

// drop is the step that takes a named thing away, and the act that it takes.
func drop(key string) (string, step, error) {
	noun, name, named := strings.Cut(key, "/")
	act, err := actOn(noun, named)
	if err != nil {
		return "", nil, err
	}
	if !named {
		return "", nil, invalid("", "The "+noun+" of a plant can be changed and not taken away.", "PUT another one.")
	}
	return act, func(s *State) (*next, error) {
		pieces := slices.Clone(s.spelled(noun))
		at, there := slices.BinarySearchFunc(pieces, key, func(p plant.Piece, k string) int { return strings.Compare(p.Key, k) })
		if !there {
			return nil, noThing(s, key)
		}
		if noun == "visits" && planned(s.Plant.FindVisit(name).Booking.State) {
			return nil, &Problem{Kind: Conflict, Title: "The visit is still to take place", Detail: fmt.Sprintf("Visit %s is %s.", name, s.Plant.FindVisit(name).Booking.State), Next: "Cancel its booking, which keeps it on record."}
		}
		if noun == "trucks" && s.Plant.FindTruck(name).Reserved.For != "" {
			return nil, &Problem{Kind: Conflict, Title: "The truck holds a place", Detail: fmt.Sprintf("Truck %s is not ordered, and its place on the line is held.", name), Next: "Give the place up: the truck goes with its visit and its work, and the place is free again."}
		}
		pieces = inList(slices.Delete(pieces, at, at+1), noun, func(names []string) []string {
			return slices.DeleteFunc(names, func(n string) bool { return n == name })
		})
		if noun == "trucks" {
			pieces = slices.DeleteFunc(pieces, func(p plant.Piece) bool { return p.Key == "plan/stages/"+name })
		}
		p, err := s.together(pieces)
		if err != nil {
			return nil, err
		}
		return &next{plant: p, what: sentenceOf(noun, name, "taken away")}, nil
	}, nil
}

func sentenceOf(noun, name, what string) string {
	if name == "" {
		return fmt.Sprintf("The plant's %s was changed.", noun)
	}
	return fmt.Sprintf("The %s %s was %s.", singular(noun), name, what)
}

// actOn is the act that it takes to change a noun.
func actOn(noun string, named bool) (string, error) {
	if act, ok := namedNouns[noun]; ok && named {
		return act, nil
	}
	if !named && slices.Contains(settings, noun) {
		return ActSetUp, nil
	}
	return "", &Problem{Kind: NotFound, Title: "There is nothing of this name to change", Detail: fmt.Sprintf("%q is no noun of the plant that can be set.", noun), Next: "See /openapi.json for what there is."}
}

// oneLine looks whether the text is one JSON value and writes it on one line, which is
// YAML as well.
func oneLine(text []byte) (string, error) {
	var b bytes.Buffer
	if err := json.Compact(&b, text); err != nil {
		return "", invalid("", "The text is no JSON: "+err.Error()+".", "Send one JSON value with the keys of the plant file.")
	}
	return b.String(), nil
}

// inList changes the names of a list. The list is made if it is not there.
func inList(pieces []plant.Piece, noun string, f func([]string) []string) []plant.Piece {
	at, there := slices.BinarySearchFunc(pieces, noun, func(p plant.Piece, k string) int { return strings.Compare(p.Key, k) })
	var names []string
	if there {
		names = strings.Split(pieces[at].Text, "\n")
	}
	names = f(names)
	switch {
	case len(names) == 0 && there:
		return slices.Delete(pieces, at, at+1)
	case len(names) == 0:
		return pieces
	case !there:
		return slices.Insert(pieces, at, plant.Piece{Key: noun, Text: strings.Join(names, "\n")})
	}
	pieces[at].Text = strings.Join(names, "\n")
	return pieces
}

// together reads a plant out of pieces. Its faults are those of what was asked, since s
// has none.
func (s *State) together(pieces []plant.Piece) (*plant.Plant, error) {
	text, err := plant.Join(pieces)
	if err != nil {
		return nil, err
	}
	p, faults := plant.Read("", text)
	if len(faults) > 0 {
		for i := range faults {
			faults[i].Line, faults[i].Column = 0, 0
		}
		return nil, faulty(faults)
	}
	return p, nil
}

// bookingStays looks that a visit is set with the booking it has, a new one with none.
func bookingStays(before, after *plant.Plant, visit string) error {
	v := after.FindVisit(visit)
	if v == nil {
		return nil
	}
	was := plant.Booking{State: plant.Requested, Day: calendar.None, HoldUntil: calendar.None}
	if old := before.FindVisit(visit); old != nil {
		was = old.Booking
		if old.Truck != v.Truck || old.Kind != v.Kind {
			return invalid("truck", "A visit stays with its truck and its kind.", "Cancel this visit and add another one.")
		}
	}
	if v.Booking != was {
		return invalid("booking", "The booking of a visit is not set with it.", "Leave the key booking as it is, and order the booking at /visits/"+visit+"/booking.")
	}
	return nil
}

// A Fit is what the judge says of the plan in force.
type Fit struct {
	Broken []string // a sentence for each broken rule; none: it fits
	Tiers  []plant.TierValue
}

// Fit has the judge look at the plan in force.
func (s *State) Fit() *Fit {
	if s.Plant.Plan == nil {
		return nil
	}
	v, f := s.Verdict(), &Fit{}
	for _, b := range v.Broken {
		f.Broken = append(f.Broken, b.Sentence)
	}
	for _, t := range v.Tiers {
		f.Tiers = append(f.Tiers, plant.TierValue{Name: t.Name, Value: t.Value})
	}
	return f
}

// rescored is the plan with the tier values that the judge finds. Nothing is proven of
// it.
func rescored(p *plant.Plant, plan *plant.Plan) *plant.Plan {
	plan.Tiers = nil
	for _, t := range check.Score(p, plan) {
		plan.Tiers = append(plan.Tiers, plant.TierValue{Name: t.Name, Value: t.Value})
	}
	return plan
}
