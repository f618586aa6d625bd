package rest_test

import (
	"strings"
	"testing"

	"wetdown/api"
	"wetdown/api/rest"
)

// TestUseCases goes through what people do with the service in a week.
func TestUseCases(t *testing.T) {
	h := settled(t, rest.Options{})
	manager, coordinator, sales, reader := h.as(api.RoleManager), h.as(api.RoleCoordinator), h.as(api.RoleSales), h.as(api.RoleReader)

	if got := reader.get("/session").want(200).text("login"); got != "reader" {
		t.Errorf("logged in as %q", got)
	}
	trucks := reader.get("/trucks").want(200)
	if trucks.count("items") == 0 {
		t.Fatalf("no trucks: %s", trucks.body)
	}
	truck := trucks.text("items.0.id")
	one := reader.get("/trucks/" + truck).want(200)
	if one.text("id") != truck || one.Header.Get("ETag") != `"1"` {
		t.Errorf("truck %s: %s, ETag %s", truck, one.body, one.Header.Get("ETag"))
	}
	reader.with("If-None-Match", `"1"`).get("/trucks/" + truck).want(304)
	if got := reader.with("Accept", "application/yaml").get("/plant").want(200); !strings.Contains(string(got.body), "wetdown: 1") {
		t.Errorf("the plant as YAML: %.100s", got.body)
	}
	if got := reader.get("/plant").want(200); got.text("name") != "Skarrelholt Works" {
		t.Errorf("the plant is called %q", got.text("name"))
	}
	text := reader.with("Accept", "application/yaml").get("/plant").want(200)
	if text.Header.Get("ETag") != `"1.yaml"` {
		t.Errorf("the plant as YAML has the tag %s", text.Header.Get("ETag"))
	}
	manager.with("If-Match", `"0"`).put("/plant", "application/yaml", append(text.body, "\n# read again\n"...)).want(200) // nothing is changed
	other := strings.Replace(string(text.body), "Skarrelholt Works", "Skarrelholt Apparatus", 2)
	manager.with("If-Match", `"0"`).put("/plant", "application/yaml", []byte(other)).refused(412, "stale")
	plan := reader.get("/plan").want(200)
	if plan.value("plan") == nil || plan.value("check.asked") == nil {
		t.Errorf("the plan in force: %.300s", plan.body)
	}

	// What happened is answered by a proposal, which somebody accepts.
	slips := reader.get("/slips").want(200)
	if slips.count("items") != 2 {
		t.Errorf("slips: %s", slips.body)
	}
	job := manager.with("Prefer", "wait=20").post("/proposals", map[string]any{}).want(200)
	if job.text("state") != "done" || job.text("answer.state") != "ready" || job.Header.Get("Preference-Applied") != "wait=20" {
		t.Fatalf("the proposal: %s", job.body)
	}
	proposal := job.text("answer.id")
	coordinator.post("/proposals/"+proposal+"/accept", nil).refused(403, "forbidden")
	if got := manager.post("/proposals/"+proposal+"/accept", nil).want(200); got.text("state") != "accepted" || got.value("impact") == nil {
		t.Errorf("accepted: %s", got.body)
	}
	manager.post("/proposals/"+proposal+"/accept", nil).refused(409, "conflict")
	if got := reader.get("/proposals?state=accepted").want(200); got.count("items") != 1 {
		t.Errorf("accepted proposals: %s", got.body)
	}
	reader.get("/proposals/" + proposal).want(200)
	calls := coordinator.get("/calls?state=open").want(200)
	if calls.count("items") == 0 {
		t.Fatalf("nobody is to be called: %s", calls.body)
	}
	call := calls.text("items.0.id")
	if got := coordinator.post("/calls/"+call+"/tick", map[string]any{"done": true, "note": "agreed"}).want(200); got.text("state") != "done" {
		t.Errorf("the call: %s", got.body)
	}

	// Questions.
	offers := coordinator.with("Prefer", "wait=20").post("/offers", map[string]any{"truck": truck}).want(200)
	if offers.text("answer.truck") != truck {
		t.Errorf("offers: %s", offers.body)
	}
	why := coordinator.with("Prefer", "wait=20").post("/explanations", map[string]any{"truck": truck}).want(200)
	if why.text("state") != "done" || why.number("answer.plan") == 0 {
		t.Errorf("explanations: %s", why.body)
	}
	if n := offers.count("answer.refused"); n > 0 {
		day := offers.text("answer.refused.0.date")
		got := coordinator.with("Prefer", "wait=20").post("/explanations", map[string]any{"truck": truck, "day": day}).want(200)
		if got.text("answer.date") != day || got.count("answer.reasons") == 0 && got.value("answer.possible") != true {
			t.Errorf("why not on %s: %s", day, got.body)
		}
	}
	repairs := manager.with("Prefer", "wait=20").post("/repairs", map[string]any{}).want(200)
	if repairs.text("state") != "done" {
		t.Errorf("repairs: %s", repairs.body)
	}
	sales.post("/repairs", map[string]any{}).refused(403, "forbidden")
	worth := manager.with("Prefer", "wait=20").post("/worth", map[string]any{"bays": []string{"floor-1"}, "top": 1, "limit": "5s"}).want(200)
	if worth.text("state") != "done" || worth.count("answer.days")+worth.count("answer.none") != 1 || worth.count("answer.tiers") != 7 {
		t.Errorf("what a day of a bay is worth: %s", worth.body)
	}
	all := manager.with("Prefer", "wait=20").post("/worth", map[string]any{}).want(200)
	if all.text("state") != "done" || all.count("answer.days") < 5 || all.count("answer.more") == 0 {
		t.Errorf("what days are worth: %s", all.body)
	}
	manager.post("/worth", map[string]any{"bays": []string{"floor-99"}}).refused(404, "not-found")
	sales.post("/worth", map[string]any{}).refused(403, "forbidden")
	order := map[string]any{"truck": map[string]any{"customer": one.text("customer"), "kind": "pumper", "content": "medium", "length_ft": 31, "height_ft": 10, "flow_gpm": 1250}, "note": "for a friend"}
	quote := sales.with("Prefer", "wait=20").post("/quotes", order)
	if quote.want(200).text("state") != "done" || quote.text("answer.note") != "for a friend" {
		t.Errorf("the quote: %s", quote.body)
	}
	sales.get("/quotes/" + quote.text("answer.id")).want(200)
	sales.get("/quotes").want(200)
	reader.get("/jobs").want(200)
	reader.get("/jobs/" + offers.text("id")).want(200)
	coordinator.post("/jobs/"+offers.text("id")+"/cancel", nil).refused(409, "conflict")

	// Parts of the plant.
	bay := reader.get("/bays/floor-1").want(200)
	changed := strings.Replace(string(bay.body), `"max_length_ft":40`, `"max_length_ft":41`, 1)
	put := manager.with("If-Match", bay.Header.Get("ETag")).put("/bays/floor-1?why=measured", "application/json", []byte(changed)).want(200)
	if put.text("why") != "measured" || put.text("who") != "manager" {
		t.Errorf("the revision: %s", put.body)
	}
	manager.with("If-Match", bay.Header.Get("ETag")).put("/bays/floor-1", "application/json", bay.body).refused(412, "stale")
	if got := reader.get("/bays/floor-1").want(200); got.Header.Get("ETag") != put.Header.Get("ETag") || got.number("max_length_ft") != 41 {
		t.Errorf("the bay is %s with ETag %s, want %s", got.body, got.Header.Get("ETag"), put.Header.Get("ETag"))
	}
	if got := reader.get("/bays/floor-1/history").want(200); got.count("items") != 2 {
		t.Errorf("history: %s", got.body)
	}
	manager.with("If-None-Match", "*").put("/bays/floor-1", "application/json", []byte(changed)).refused(412, "stale")
	manager.with("If-None-Match", "*").put("/bays/pit-9", "application/json", []byte(`{"id": "pit-9", "kinds": ["pump_test"]}`)).want(200)
	manager.drop("/bays/pit-9").want(200)
	manager.with("If-None-Match", "*").put("/bays/pit-9", "application/json", []byte(`{"id": "pit-9", "kinds": ["pump_test"]}`)).want(200)
	manager.put("/bays/floor-1", "application/json", []byte(`{"id": "floor-1", "kinds": ["floor"], "max_lenght_ft": 40}`)).refused(422, "invalid")
	manager.drop("/bays/floor-1").refused(422, "invalid")
	manager.put("/plant/name", "application/json", []byte(`"Skarrelholt Works"`))
	reader.get("/plant/zone").want(200)
	reader.get("/plant/name/history").want(200)
	if got := reader.get("/trucks?limit=1").want(200); got.count("items") != 1 || !strings.Contains(got.Header.Get("Link"), `rel="next"`) {
		t.Errorf("a page of one truck: %s, Link %q", got.body, got.Header.Get("Link"))
	}
	if got := reader.get("/visits?state=confirmed").want(200); got.count("items") == 0 || got.text("items.0.booking.state") != "confirmed" {
		t.Errorf("confirmed visits: %s", got.body)
	}
	reader.wildly().get("/visits?stat=confirmed").refused(422, "invalid")

	// Revisions, and back.
	revisions := reader.get("/revisions?limit=2").want(200)
	newest := revisions.number("items.0.number")
	if newest < 4 || revisions.count("items") != 2 {
		t.Errorf("revisions: %s", revisions.body)
	}
	reader.get("/revisions/2").want(200)
	manager.post("/revisions/"+itoa(newest)+"/undo?why=by+mistake", nil).want(200)
	reader.get("/revisions/99999").refused(404, "not-found")
	reader.get("/revisions/x").refused(404, "not-found")

	// Reports.
	slip := coordinator.post("/slips", map[string]any{"kind": "bay_down", "bay": "pit-1", "over": map[string]any{"from": "2027-06-01", "through": "2027-06-02"}}).want(201)
	coordinator.get("/slips/" + slip.text("id")).want(200)
	coordinator.drop("/slips/" + slip.text("id")).want(200)
	coordinator.post("/slips", map[string]any{"kind": "bay_down", "bay": "pit-l"}).refused(422, "invalid")
	coordinator.post("/progress", map[string]any{"as_of": "2027-05-10T06:00"}).want(200)
	coordinator.post("/line-off", map[string]any{"reports": []any{map[string]any{"truck": "nobody", "day": "2027-06-01"}}}).refused(404, "not-found")

	// Who gets told.
	coordinator.send("PUT", "/contacts/"+one.text("customer"), map[string]any{"name": "A. Chief", "mail": "chief@fire.example"}).want(200)
	coordinator.get("/contacts").want(200)
	coordinator.get("/contacts/" + one.text("customer")).want(200)
	coordinator.get("/invitations").want(200)
	hook := manager.post("/webhooks", map[string]any{"url": "https://elsewhere.example/hook", "events": []string{"plan.accepted"}}).want(201)
	if !strings.HasPrefix(hook.text("secret"), "whsec_") {
		t.Errorf("the webhook: %s", hook.body)
	}
	if got := manager.get("/webhooks").want(200); got.text("items.0.secret") != "" {
		t.Error("the list of webhooks gives secrets away")
	}
	manager.post("/webhooks/"+hook.text("id")+"/pause", nil).want(200)
	manager.post("/webhooks/"+hook.text("id")+"/resume", map[string]any{"skip": true}).want(200)
	manager.drop("/webhooks/" + hook.text("id")).want(204)
	feed := coordinator.post("/feeds", map[string]any{"of": "bays/floor-1"}).want(201)
	address := strings.TrimPrefix(feed.text("address"), h.url)
	calendar := h.stranger().get(address).want(200)
	if !strings.HasPrefix(string(calendar.body), "BEGIN:VCALENDAR") {
		t.Errorf("the feed: %.100s", calendar.body)
	}
	h.stranger().with("If-None-Match", calendar.Header.Get("ETag")).get(address).want(304)
	coordinator.get("/feeds").want(200)
	coordinator.drop("/feeds/" + feed.text("id")).want(204)
	h.stranger().get(address).refused(404, "not-found")
	coordinator.drop("/contacts/" + one.text("customer")).want(204)

	// Paper and tables.
	visit := reader.get("/visits").want(200).text("items.0.id")
	for _, path := range []string{"/visits/" + visit + "/sheet", "/bays/floor-1/week", "/line-up?day=2027-05-12"} {
		if got := reader.get(path).want(200); !strings.Contains(string(got.body), "<html") {
			t.Errorf("%s: %.100s", path, got.body)
		}
	}
	reader.get("/visits/none/sheet").refused(404, "not-found")
	table := reader.get("/files/trucks").want(200)
	preview := manager.do("POST", "/files/trucks/preview", "text/csv", table.body).want(200)
	if preview.number("counts.unchanged") == 0 || preview.number("counts.refused") != 0 {
		t.Errorf("what was given out is taken in as %s", preview.body)
	}
	manager.do("POST", "/files/trucks?revision="+itoa(preview.number("revision")), "text/csv", table.body).want(200)
	manager.do("POST", "/files/trucks?revision=1", "text/csv", table.body).refused(409, "stale")
	book := reader.get("/files/bookings?format=xlsx").want(200)
	coordinator.do("POST", "/files/bookings/preview", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", book.body).want(200)

	// Settings, accounts, tokens, the trail.
	manager.send("PUT", "/settings", map[string]any{"auto_accept": false, "auto_invite": false}).want(200)
	reader.get("/settings").want(200)
	admin := h.as(api.RoleAdministrator)
	admin.send("PATCH", "/accounts/reader", map[string]any{"name": "Somebody Else"}).want(200)
	admin.get("/accounts").want(200)
	reader.get("/accounts/reader").want(200)
	reader.get("/accounts/manager").refused(403, "forbidden")
	robot := h.program("robot", "read")
	robot.get("/trucks").want(200)
	robot.post("/slips", map[string]any{"kind": "bay_down"}).refused(403, "forbidden")
	admin.get("/tokens").want(200)
	admin.drop("/tokens/robot").want(200)
	robot.get("/trucks").refused(401, "unknown")
	if got := admin.get("/trail").want(200); got.count("items") < 20 {
		t.Errorf("the trail has %d events", got.count("items"))
	}
	reader.send("PUT", "/password", map[string]any{"before": "wrong", "after": "another long password"}).refused(403, "forbidden")
	reader.post("/logout", nil).want(204)
	reader.get("/trucks").refused(401, "unknown")
	h.stranger().get("/healthz").want(200)
	h.stranger().get("/readyz").want(200)
	h.stranger().get("/").want(200)
	h.stranger().get("/problems/stale").want(200)
	h.stranger().get("/problems/none").refused(404, "not-found")
	if got := h.stranger().get("/metrics").want(200); !strings.Contains(string(got.body), `route="/trucks/:id"`) {
		t.Error("the metrics do not count by route")
	}
	h.stranger().get("/openapi.json").want(200)
	if strings.Contains(h.log.String(), "chief@") || strings.Contains(h.log.String(), "by+mistake") || strings.Contains(h.log.String(), "wf_") {
		t.Error("the log knows too much")
	}
}
