package rest_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"wetdown/api"
	"wetdown/api/rest"
)

// TestPages goes through every list page by page while others add to it. All that was there
// at the start comes once, in the order of the list, and nothing comes twice; of a list with
// the newest first, nothing that came after the first page does.
func TestPages(t *testing.T) {
	h := settled(t, rest.Options{})
	admin := h.as(api.RoleAdministrator)
	const first, more = 7, 12
	record := func(kind, state string) func(string) error {
		return func(name string) error {
			return h.store.Update(context.Background(), func(tx api.Tx) error {
				_, err := tx.Put(api.Record{Kind: kind, ID: name, State: state, Body: fmt.Appendf(nil, `{"ID": %q, "Result": {}}`, name)})
				return err
			})
		}
	}
	event := func(name string) error {
		return h.store.Update(context.Background(), func(tx api.Tx) error {
			return tx.AddEvent(api.Event{At: time.Unix(0, 0), Who: name, Act: api.ActRead, Subject: "trucks", Outcome: api.OutcomeDone})
		})
	}
	who := api.Actor{Name: "somebody", Acts: api.Acts()}
	bay := func(name string) error {
		_, err := h.app.Put(context.Background(), who, api.Intent{Why: name}, "bays/"+name, fmt.Appendf(nil, `{"id": %q, "kinds": ["pump_test"]}`, name))
		return err
	}
	slip := func(name string) error {
		s, err := h.app.State(context.Background(), who, 0)
		if err != nil {
			return err
		}
		x := s.Plant.Slips[0]
		x.ID = name
		_, _, err = h.app.ReportSlip(context.Background(), who, api.Intent{}, x)
		return err
	}
	for _, c := range []struct {
		path, name string // where in an item it stands what the test has called it
		add        func(name string) error
		newest     bool
	}{
		{"/proposals", "id", record(api.KindProposal, api.ProposalDropped), false},
		{"/proposals?order=oldest", "id", record(api.KindProposal, api.ProposalDropped), false},
		{"/proposals?order=newest", "id", record(api.KindProposal, api.ProposalDropped), true},
		{"/proposals?order=newest&state=dropped", "id", record(api.KindProposal, api.ProposalDropped), true},
		{"/quotes", "id", record(api.KindQuote, ""), false},
		{"/quotes?order=newest", "id", record(api.KindQuote, ""), true},
		{"/jobs", "id", record(api.KindJob, api.JobCancelled), false},
		{"/jobs?order=newest", "id", record(api.KindJob, api.JobCancelled), true},
		{"/calls", "id", record(api.KindCall, api.CallDone), false},
		{"/calls?order=newest", "id", record(api.KindCall, api.CallDone), true},
		{"/accounts", "login", record(api.KindAccount, "disabled"), false},
		{"/bays", "id", bay, false},
		{"/slips", "id", slip, false},
		{"/revisions", "why", bay, true},
		{"/trail", "who", event, true},
	} {
		t.Run(c.path, func(t *testing.T) {
			// Names are in the order in which they are made, and others come between them.
			at := strings.ToLower(strings.Trim(strings.NewReplacer("/", "", "?", "-", "=", "-", "&", "-").Replace(c.path), "-"))
			called := func(n int, which string) string { return fmt.Sprintf("p-%s-%02d%s", at, n, which) }
			var want []string
			for n := range first {
				want = append(want, called(n, "a"))
				if err := c.add(want[n]); err != nil {
					t.Fatal(err)
				}
			}
			if c.newest {
				slices.Reverse(want)
			}
			reader := *admin
			path, sign := c.path, "?"
			if strings.Contains(path, sign) {
				sign = "&"
			}
			path += sign + "limit=2"
			var got []string
			var adding sync.WaitGroup
			for page := 0; path != ""; page++ {
				if page == 1 { // two who add at once
					for _, which := range []string{"b", "c"} {
						adding.Go(func() {
							for n := range more {
								if err := c.add(called(n, which)); err != nil {
									t.Error(err)
								}
							}
						})
					}
				}
				a := reader.get(path).want(200)
				for i := range a.count("items") {
					got = append(got, a.text(fmt.Sprintf("items.%d.%s", i, c.name)))
				}
				path, _ = strings.CutPrefix(a.Header.Get("Link"), "<")
				path, _, _ = strings.Cut(path, ">")
			}
			adding.Wait()
			ours := slices.DeleteFunc(slices.Clone(got), func(s string) bool { return !strings.HasPrefix(s, "p-"+at+"-") })
			if sorted := slices.Compact(slices.Sorted(slices.Values(ours))); len(sorted) != len(ours) {
				t.Errorf("something comes twice: %q", got)
			}
			old := slices.DeleteFunc(slices.Clone(ours), func(s string) bool { return !strings.HasSuffix(s, "a") })
			if !slices.Equal(old, want) {
				t.Errorf("of what was there come\n%q, want\n%q", old, want)
			}
			if c.newest && len(ours) != len(old) {
				t.Errorf("what came later is told: %q", ours)
			}
		})
	}
	admin.wildly().get("/jobs?order=latest").refused(422, "invalid")
	admin.wildly().get("/accounts?order=newest").refused(422, "invalid")
}
