package rest_test

import (
	"fmt"
	"testing"

	"wetdown/api"
	"wetdown/api/rest"
)

// pastTable is a table of so many trucks whose line-off and delivery came a week late.
func pastTable(trucks int) []byte {
	text := "truck,event,said,projected,actual,truck_kind,content,customer,requested,contract\n"
	for i := range trucks {
		text += fmt.Sprintf("OLD-%d,line_off,2026-01-%02d,2026-03-02,2026-03-09,pumper,medium,Xarn,,\n", i, 5+i%20)
		text += fmt.Sprintf("OLD-%d,delivery,2026-01-%02d,2026-05-04,2026-05-11,pumper,medium,Xarn,2026-05-01,2026-05-20\n", i, 5+i%20)
	}
	return []byte(text)
}

// TestOnTime counts what came, for all and by customer, and walks through the history.
func TestOnTime(t *testing.T) {
	h := settled(t, rest.Options{})
	reader, manager := h.as(api.RoleReader), h.as(api.RoleManager)
	manager.do("POST", "/files/history", "text/csv", pastTable(10)).want(200)
	on := reader.get("/on-time?by=customer").want(200)
	counts := map[string]string{}
	for i := range on.count("counts") {
		at := fmt.Sprintf("counts.%d.", i)
		counts[on.text(at+"event")+" "+on.text(at+"name")+" "+on.text(at+"against")] = fmt.Sprint(on.number(at+"early"), on.number(at+"on_day"), on.number(at+"late"), on.number(at+"open"))
	}
	for name, want := range map[string]string{
		"delivery Xarn original": "0 0 10 0", "delivery Xarn latest": "0 0 10 0", "delivery Xarn requested": "0 0 10 0", "delivery Xarn contract": "10 0 0 0", "line_off Xarn original": "0 0 10 0",
	} {
		if counts[name] != want {
			t.Errorf("%s: %s, want %s", name, counts[name], want)
		}
	}
	reader.get("/on-time").want(200)
	reader.wildly().get("/on-time?by=colour").refused(422, "invalid")
	b := reader.with("Prefer", "wait=20").get("/history/backtest").want(200)
	if b.number("trucks") < 10 || b.count("levels") != 3 {
		t.Errorf("the backtest: %.300s", b.body)
	}
	jobs := reader.get("/jobs").want(200)
	reader.get("/history/backtest").want(200)
	if n := reader.get("/jobs").want(200).count("items"); n != jobs.count("items") || n != 1 {
		t.Errorf("%d jobs for one history", n)
	}
	if got := reader.get("/jobs/" + jobs.text("items.0.id")).want(200); got.number("answer.trucks") != b.number("trucks") {
		t.Errorf("the job: %.300s", got.body)
	}
}
