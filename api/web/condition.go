package web

import (
	"encoding/json"
	"net/url"
	"slices"
	"strings"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
)

// A conditionForm is what a person insists on, to be let go, and fields for one more
// condition of each kind. It is the same wherever the planner is asked.
type conditionForm struct {
	Plant *plant.Plant
	Held  []heldCondition
	Typed map[string]string // what was typed and refused
}

// A heldCondition is a box that is ticked.
type heldCondition struct {
	Value   string // as in a file of conditions, for a form and for an address
	Words   string
	Opposed bool // it is one of those that contradict each other or the plant
}

// conditionFields are the names of the fields of the form.
var conditionFields = []string{"keep", "delivery", "hold", "department", "customer", "before", "rather", "than", "without_from", "without_through"}

// conditionForm is the form under conditions; opposed are those, in words, that contradict
// each other or the plant.
func (v *view) conditionForm(list []plant.Condition, opposed []string) conditionForm {
	f := conditionForm{Plant: v.State.Plant, Typed: map[string]string{}}
	for _, c := range list {
		says := solver.Say(v.State.Plant, c)
		f.Held = append(f.Held, heldCondition{Value: conditionValue(c), Words: says, Opposed: slices.Contains(opposed, says)})
	}
	if v.Said != nil {
		for _, name := range conditionFields {
			f.Typed[name] = v.r.FormValue(name)
		}
	}
	return f
}

// opposedBy are the conditions, in words, that a problem names as contradicting each other
// or the plant; none for nil.
func opposedBy(p *api.Problem) (list []string) {
	if p == nil {
		return nil
	}
	text, err := json.Marshal(p.Extra["contradiction"])
	var c struct{ Conditions []struct{ Sentence string } }
	if err != nil || json.Unmarshal(text, &c) != nil {
		return nil
	}
	for _, x := range c.Conditions {
		list = append(list, x.Sentence)
	}
	return list
}

// conditionValue writes a condition as in a file of conditions, in one line.
func conditionValue(c plant.Condition) string {
	type over struct {
		From    string `json:"from"`
		Through string `json:"through"`
	}
	line := struct {
		Kind       string `json:"kind"`
		Truck      string `json:"truck,omitempty"`
		Than       string `json:"than,omitempty"`
		Visit      string `json:"visit,omitempty"`
		Department string `json:"department,omitempty"`
		Customer   string `json:"customer,omitempty"`
		Day        string `json:"day,omitempty"`
		Over       *over  `json:"over,omitempty"`
	}{c.Kind, c.Truck, c.Than, c.Visit, c.Department, c.Customer, "", nil}
	if c.Day != calendar.None {
		line.Day = c.Day.String()
	}
	if c.Over.From != calendar.None {
		line.Over = &over{c.Over.From.String(), c.Over.Through.String()}
	}
	text, err := json.Marshal(line)
	if err != nil {
		panic(err) // it is text
	}
	return string(text)
}

// withConditions adds conditions to an address.
func withConditions(to string, list []plant.Condition) string {
	if len(list) == 0 {
		return to
	}
	q := url.Values{}
	for _, c := range list {
		q.Add("under", conditionValue(c))
	}
	if strings.Contains(to, "?") {
		return to + "&" + q.Encode()
	}
	return to + "?" + q.Encode()
}

// conditions are those of the form or the address: boxes that are still ticked, and fields
// of which something was filled in. Each stands once.
func (v *view) conditions() ([]plant.Condition, error) {
	form := func(name string) string { return strings.TrimSpace(v.r.FormValue(name)) }
	var list []plant.Condition
	form("under") // which reads the form
	if held := v.r.Form["under"]; len(held) > 0 {
		read, faults := plant.ReadConditions("", []byte(`{"wetdown": 1, "conditions": [`+strings.Join(held, ", ")+`]}`), v.State.Plant)
		if len(faults) > 0 {
			return nil, &api.Problem{Kind: api.Invalid, Title: "A condition cannot be read", Detail: "It comes from an address that was changed, or from another plant.", Next: "Say it again with the form.", Faults: faults}
		}
		list = read
	}
	add := func(f func(c *plant.Condition)) {
		c := plant.Condition{Day: calendar.None, Over: plant.Range{From: calendar.None, Through: calendar.None}}
		f(&c)
		if !slices.Contains(list, c) {
			list = append(list, c)
		}
	}
	if id := form("keep"); id != "" {
		add(func(c *plant.Condition) {
			c.Kind = plant.KeepVisit
			if v.State.Plant.FindVisit(id) != nil {
				c.Visit = id
			} else {
				c.Truck = id
			}
		})
	}
	if id := form("delivery"); id != "" {
		add(func(c *plant.Condition) { c.Kind, c.Truck = plant.KeepDelivery, id })
	}
	if id := form("hold"); id != "" {
		add(func(c *plant.Condition) { c.Kind, c.Visit = plant.HoldVisit, id })
	}
	if id := form("department"); id != "" {
		add(func(c *plant.Condition) { c.Kind, c.Department = plant.NoOvertime, id })
	}
	day, err := v.date("before")
	if err != nil {
		return nil, err
	}
	if id := form("customer"); id != "" || day != calendar.None {
		add(func(c *plant.Condition) { c.Kind, c.Customer, c.Day = plant.NotBefore, id, day })
	}
	if one, other := form("rather"), form("than"); one != "" || other != "" {
		add(func(c *plant.Condition) { c.Kind, c.Truck, c.Than = plant.MoveRather, one, other })
	}
	from, err := v.date("without_from")
	if err != nil {
		return nil, err
	}
	through, err := v.date("without_through")
	if err != nil {
		return nil, err
	}
	if from != calendar.None || through != calendar.None {
		if through == calendar.None {
			through = from
		}
		add(func(c *plant.Condition) { c.Kind, c.Over = plant.NoVisits, plant.Range{From: from, Through: through} })
	}
	return list, nil
}
