package plant

import (
	"fmt"
	"strings"
)

// plan looks at the plan in force: that it is a plan for this plant, and that
// its rows name what there is. Whether it is complete and keeps the rules is for
// the judge to say.
func (q *inquiry) plan() {
	p := q.p.Plan
	if p == nil {
		return
	}
	if p.Plant != q.p.Name && p.Plant != "" && q.p.Name != "" {
		q.findIf(place{key("name")}, wrong{
			fmt.Sprintf("the plan was made for the plant %s, and this is %s", quoted(p.Plant), quoted(q.p.Name)),
			quoted(q.p.Name), "take the plan away and plan anew, or correct the name",
		}, key("plan"), key("plant"))
	}
	seen := map[string]bool{}
	for i, t := range p.Tiers {
		at := place{key("plan"), key("tiers"), nth(i, t.Name)}
		if seen[t.Name] && t.Name != "" {
			q.find(wrong{"the tier " + t.Name + " is there twice", "each tier once", "take one away"}, at.key("name")...)
		}
		seen[t.Name] = true
		if t.Bound > t.Value {
			q.find(wrong{fmt.Sprintf("the bound %d of the tier %s is above its value %d", t.Bound, t.Name, t.Value), "a bound up to the value", "plan anew: the plan was changed by hand"}, at.key("bound")...)
		}
	}
	for i := range p.Stages {
		s := &p.Stages[i]
		if w := q.rowStage(s.Stage); !w.ok() {
			q.findIf(setPlaces[aStage], w, key("plan"), key("stages"), nth(i, s.Truck), key("stage"))
		}
	}
}

// rowStage looks whether a row names a stage, or a stage and a wish in it.
func (q *inquiry) rowStage(name string) wrong {
	if name == "" {
		return wrong{}
	}
	stage, wish, inside := strings.Cut(name, ".")
	if w := q.known.check(aStage, stage); !w.ok() {
		return w
	}
	if !inside {
		return wrong{}
	}
	if i, ok := q.known.at[aStage][stage]; ok && q.p.Route[i].Visit == "" {
		return wrong{fmt.Sprintf("%s is no visit, so %s cannot be a wish in it", stage, quoted(wish)), oneOf(q.visitKinds()), "write the stage alone"}
	}
	if wish == "" {
		return wrong{"a wish is missing behind the point", oneOf(q.known.ids[aWish]), "write the stage alone, or stage, point, wish"}
	}
	return q.known.check(aWish, wish)
}
