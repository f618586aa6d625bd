package api_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"wetdown/api"
)

func TestTrail_Pages(t *testing.T) {
	h := newHall(t)
	for i := range 7 {
		if err := h.Record(ctx, api.Event{Seq: 99, At: time.Unix(0, 0), Who: "kim", Act: api.ActBook, Subject: fmt.Sprint("visits/V-", i), Outcome: api.OutcomeDone}); err != nil {
			t.Fatal(err)
		}
		h.pass(time.Second)
	}
	var subjects []string
	for before := int64(0); ; {
		list, err := h.Trail(ctx, h.admin, before, 3)
		if err != nil {
			t.Fatal(err)
		}
		if len(list) == 0 {
			break
		}
		for _, e := range list {
			subjects = append(subjects, strings.TrimPrefix(e.Subject, "visits/V-"))
			if want := time.Date(2026, 11, 25, 14, 0, int(e.Seq)-1, 0, time.UTC); !e.At.Equal(want) {
				t.Errorf("event %d is of %s, want %s", e.Seq, e.At, want)
			}
			before = e.Seq
		}
	}
	if got := strings.Join(subjects, ""); got != "6543210" {
		t.Errorf("the trail is %s", got)
	}
}

func TestTrail_Texts(t *testing.T) {
	h := newHall(t)
	for _, c := range []struct{ text, want string }{
		{"plain", "plain"},
		{"two\r\nlines\x00 and\ttabs", "two lines  and tabs"},
		{"bad \xff byte", "bad ? byte"},
		{"with wd_ABCDEFGHIJKLMNOPQRSTUVWXYZ in it", "with wd_… in it"},
		{"wd_ alone", "wd_ alone"},
		{strings.Repeat("é", 3000), strings.Repeat("é", 999) + "…"},
	} {
		e := api.Event{Who: c.text, Act: c.text, Subject: c.text, Outcome: api.OutcomeRefused, Detail: c.text}
		if err := h.Record(ctx, e); err != nil {
			t.Fatal(err)
		}
		got := h.trail(t)[0]
		if got.Detail != c.want {
			t.Errorf("%.40q became %.40q, want %.40q", c.text, got.Detail, c.want)
		}
		for _, s := range []struct {
			text string
			most int
		}{{got.Who, 100}, {got.Act, 100}, {got.Subject, 200}} {
			if n := utf8.RuneCountInString(s.text); n > s.most || n < s.most && n < utf8.RuneCountInString(c.want) {
				t.Errorf("%.40q has %d characters", s.text, n)
			}
		}
	}
	if err := h.Record(ctx, api.Event{Outcome: "perhaps"}); err == nil {
		t.Error("an outcome that does not exist is taken")
	}
}

func TestTrail_Outcome(t *testing.T) {
	for _, c := range []struct {
		err  error
		want string
	}{
		{nil, api.OutcomeDone},
		{&api.Problem{Kind: api.Refused}, api.OutcomeRefused},
		{fmt.Errorf("about: %w", &api.Problem{Kind: api.Forbidden}), api.OutcomeRefused},
		{&api.Problem{Kind: api.Broken}, api.OutcomeFailed},
		{errors.New("a fault"), api.OutcomeFailed},
	} {
		if got := api.Outcome(c.err); got != c.want {
			t.Errorf("%v: got %s, want %s", c.err, got, c.want)
		}
	}
}
