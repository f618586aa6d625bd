package rest_test

import (
	"testing"

	"wetdown/api"
	"wetdown/api/rest"
)

// A condition is one in the words of a file of conditions.
type condition map[string]any

// TestConditions asks each kind of question with what somebody insists on, and then with
// what no plan obeys.
func TestConditions(t *testing.T) {
	h := settled(t, rest.Options{})
	manager := h.as(api.RoleManager)
	ask := func(path string, body map[string]any, conditions ...condition) *answer {
		t.Helper()
		body["conditions"] = conditions
		return manager.with("Prefer", "wait=20").post(path, body).want(200)
	}
	none := condition{"kind": "no_visits", "over": map[string]any{"from": "2027-06-14", "through": "2027-06-14"}}
	stay := condition{"kind": "keep_visit", "visit": "V1"}
	away := condition{"kind": "no_visits", "over": map[string]any{"from": "2027-05-27", "through": "2027-05-27"}}
	early := condition{"kind": "not_before", "customer": "C4", "day": "2027-05-10"}

	// V3 may be on two days, 14 and 15 June; one of them is taken away.
	offers := ask("/offers", map[string]any{"truck": "A3"}, none, early)
	if offers.text("state") != "done" || offers.count("answer.conditions") != 2 || offers.text("answer.conditions.0.kind") != "no_visits" || offers.text("answer.conditions.0.sentence") == "" {
		t.Fatalf("the conditions are not said: %s", offers.body)
	}
	if offers.count("answer.offers") != 1 || offers.text("answer.offers.0.date") != "2027-06-15" {
		t.Errorf("on offer: %s", offers.body)
	}
	free := manager.with("Prefer", "wait=20").post("/offers", map[string]any{"truck": "A3"}).want(200)
	if free.count("answer.offers") != 2 || free.count("answer.conditions") != 0 {
		t.Errorf("on offer without conditions: %s", free.body)
	}
	why := ask("/explanations", map[string]any{"truck": "A3", "day": "2027-06-14"}, none)
	if why.value("answer.possible") != false || why.count("answer.conditions") != 1 || why.count("answer.reasons") == 0 {
		t.Errorf("why not: %s", why.body)
	}
	// The plan in force obeys this, and so is the one that is explained.
	causes := ask("/explanations", map[string]any{"truck": "A1"}, stay)
	if causes.number("answer.plan") != 1 || causes.count("answer.conditions") != 1 {
		t.Errorf("causes: %s", causes.body)
	}
	// It does not obey this, and another one is explained, which moves V1.
	causes = ask("/explanations", map[string]any{"truck": "A1"}, away)
	if causes.value("answer.plan") != nil || causes.text("answer.explanations.0.about") != "moved" || causes.text("answer.explanations.0.visit") != "V1" {
		t.Errorf("causes under what the plan in force does not obey: %s", causes.body)
	}
	repairs := ask("/repairs", map[string]any{}, condition{"kind": "no_overtime", "department": "testing"})
	if repairs.text("state") != "done" || repairs.count("answer.conditions") != 1 || repairs.value("answer.at_least") == nil {
		t.Fatalf("ways out: %s", repairs.body)
	}
	proposal := manager.post("/repairs/"+repairs.text("id")+"/proposals", map[string]any{"way": 0}).want(201)
	if proposal.count("conditions") != 1 {
		t.Errorf("the proposal of a way out does not have its conditions: %s", proposal.body)
	}

	// V1 cannot be where it is on a day without visits, whatever else is asked for.
	for _, c := range []struct {
		path string
		body map[string]any
		set  int
	}{
		{"/offers", map[string]any{"truck": "A3"}, 2},
		{"/offers", map[string]any{"truck": "A3", "prices": true}, 2},
		{"/explanations", map[string]any{"truck": "A3", "day": "2027-06-14"}, 2},
		{"/explanations", map[string]any{"truck": "A3"}, 2},
		{"/repairs", map[string]any{}, 1}, // by a slip, its customer is away on that day
		{"/repairs", map[string]any{"truck": "A3", "day": "2027-06-14"}, 2},
	} {
		got := ask(c.path, c.body, early, stay, away)
		if got.text("state") != "failed" || got.number("problem.status") != 409 || got.text("problem.type") != "/problems/refused" || got.text("problem.next") == "" {
			t.Errorf("%s %v: %s", c.path, c.body, got.body)
			continue
		}
		set := "problem.contradiction."
		if got.value(set+"proven") != true || got.value(set+"plant") != false || got.count(set+"conditions") != c.set ||
			got.text(set+"conditions.0.visit") != "V1" || c.set > 1 && got.text(set+"conditions.1.kind") != "no_visits" || got.count(set+"sentences") == 0 {
			t.Errorf("%s %v: the contradiction is %s", c.path, c.body, got.body)
		}
	}

	// A proposal that there is not says so as well.
	proposal = ask("/proposals", map[string]any{"slips": []string{}}, early, stay, away)
	if proposal.text("answer.state") != "dropped" || proposal.count("answer.contradiction.conditions") != 2 || proposal.value("answer.contradiction.proven") != true || proposal.count("answer.reasons") == 0 {
		t.Errorf("the proposal: %s", proposal.body)
	}

	// What makes no sense is refused before anybody plans.
	for _, path := range []string{"/offers", "/explanations", "/repairs"} {
		for _, c := range []condition{{"kind": "keep_visits", "visit": "V1"}, {"kind": "keep_visit", "visit": "V9"}, {"kind": "no_visits"}} {
			got := manager.post(path, map[string]any{"truck": "A3", "conditions": []condition{c}}).refused(422, "invalid")
			if got.count("faults") == 0 {
				t.Errorf("%s with %v: %s", path, c, got.body)
			}
		}
	}
	manager.post("/explanations", map[string]any{"day": "2027-06-14"}).refused(422, "invalid")
	manager.post("/repairs", map[string]any{"day": "2027-06-14"}).refused(422, "invalid")
	manager.wildly().post("/offers", map[string]any{"conditions": []condition{stay}}).refused(422, "invalid")
}
