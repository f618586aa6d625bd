package rest_test

import (
	"fmt"
	"sync"
	"testing"

	"wetdown/api"
	"wetdown/api/rest"
)

// wouldBe is an order as it is sent.
func wouldBe() map[string]any {
	return map[string]any{
		"truck": map[string]any{"customer": "C1", "kind": "pumper", "content": "medium", "length_ft": 31, "height_ft": 10, "flow_gpm": 1250},
		"visit": map[string]any{"heads": 2, "halves": 2},
	}
}

// TestReservation has two clients, who were quoted the same day, ask at the same moment for
// the last place on the line: one has it, and the other is told that it is gone. It is given
// up, held again, and ordered, by whoever may.
func TestReservation(t *testing.T) {
	h := settled(t, rest.Options{})
	sales, reader := h.as(api.RoleSales), h.as(api.RoleReader)
	var quotes []string
	for range 2 {
		q := sales.with("Prefer", "wait=20").post("/quotes", wouldBe()).want(200)
		if q.text("answer.delivery") == "" || q.value("answer.odds") == nil {
			t.Fatalf("the quote: %s", q.body)
		}
		quotes = append(quotes, q.text("answer.id"))
	}
	const until = "2027-05-24" // two weeks from today, by the plant
	answers := make([]*answer, 2)
	var wg sync.WaitGroup
	for i, quote := range quotes {
		c := h.as(api.RoleSales)
		wg.Go(func() {
			answers[i] = c.with("Prefer", "wait=20").post("/quotes/"+quote+"/reservation", map[string]any{"truck": fmt.Sprintf("N-%d", i), "until": until})
		})
	}
	wg.Wait()
	won := 0
	if answers[0].StatusCode != 200 {
		won = 1
	}
	lost := 1 - won
	held := answers[won].want(200)
	truck := held.text("answer.truck")
	if held.text("state") != "done" || held.text("answer.quote") != quotes[won] || held.text("answer.until") != until || held.text("answer.visit") != truck+"-F" {
		t.Errorf("held: %s", held.body)
	}
	no := answers[lost].refused(409, "conflict")
	if no.text("title") != "The quoted day cannot be had any more" && no.text("title") != "There is no place on the line" || no.text("next") == "" {
		t.Errorf("the other: %s", no.body)
	}
	if got := reader.get("/quotes/" + quotes[won] + "/outcome").want(200); got.text("state") != "held" || got.text("truck") != truck || got.text("original") == "" || got.text("original") != got.text("latest") || got.value("actual") != nil {
		t.Errorf("what became of it: %s", got.body)
	}
	if got := reader.get("/quotes/" + quotes[lost] + "/outcome").want(200); got.text("state") != "quoted" || got.value("truck") != nil {
		t.Errorf("what became of the other: %s", got.body)
	}

	// Who may not, and what does not fit.
	reader.drop("/trucks/"+truck+"/reservation").refused(403, "forbidden")
	reader.post("/trucks/"+truck+"/order", nil).refused(403, "forbidden")
	sales.post("/trucks/A1/order", nil).refused(409, "conflict")
	sales.drop("/trucks/none/reservation").refused(404, "not-found")
	sales.post("/quotes/none/reservation", map[string]any{"truck": "N-9", "until": until}).refused(404, "not-found")
	sales.post("/quotes/"+quotes[lost]+"/reservation", map[string]any{"truck": "A1", "until": until}).refused(422, "invalid")
	sales.post("/quotes/"+quotes[lost]+"/reservation", map[string]any{"truck": "N-9", "until": ""}).refused(422, "invalid")
	sales.post("/quotes/"+quotes[lost]+"/reservation", map[string]any{"truck": "N-9", "until": "2020-01-01"}).refused(422, "invalid")

	// It is given up, and the other has it now, and orders.
	if got := sales.drop("/trucks/" + truck + "/reservation?why=lost+the+tender").want(200); got.text("why") != "lost the tender" {
		t.Errorf("given up: %s", got.body)
	}
	if got := reader.get("/quotes/" + quotes[won] + "/outcome").want(200); got.text("state") != "given_up" {
		t.Errorf("what became of it: %s", got.body)
	}
	job := sales.post("/quotes/"+quotes[lost]+"/reservation", map[string]any{"truck": truck, "until": until}).want(202)
	for job.text("state") == "waiting" || job.text("state") == "running" {
		job = sales.get("/jobs/" + job.text("id")).want(200)
	}
	if job.text("state") != "done" {
		t.Fatalf("held again: %s", job.body)
	}
	sales.post("/trucks/"+truck+"/order", nil).want(200)
	sales.post("/trucks/"+truck+"/order", nil).refused(409, "conflict")
	list := reader.get("/outcomes?order=newest").want(200)
	got := map[string]string{}
	for i := range list.count("items") {
		at := fmt.Sprintf("items.%d.", i)
		got[list.text(at+"quote")] = list.text(at+"state") + " " + list.text(at+"truck")
	}
	if got[quotes[lost]] != "ordered "+truck || got[quotes[won]] != "given_up "+truck {
		t.Errorf("what became of both: %v", got)
	}
}
