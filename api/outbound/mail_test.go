package outbound_test

import (
	"bufio"
	"bytes"
	"context"
	"crypto/tls"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/mail"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	goical "github.com/emersion/go-ical"
	"go.uber.org/goleak"

	"wetdown/api"
	"wetdown/api/outbound"
	"wetdown/solver/plant"
)

// contact says whom to write to about a visit.
func contact(h *house, visit, name, address string) {
	h.t.Helper()
	s, err := h.State(h.t.Context(), admin, 0)
	if err != nil {
		h.t.Fatal(err)
	}
	customer := s.Plant.FindTruck(s.Plant.FindVisit(visit).Truck).Customer
	if err := h.SetContact(h.t.Context(), admin, api.Contact{Customer: customer, Name: name, Mail: address}); err != nil {
		h.t.Fatal(err)
	}
}

// byItself lets invitations go out without a person.
func (h *house) byItself() {
	h.t.Helper()
	if err := h.SetSettings(h.t.Context(), admin, api.Settings{AutoInvite: true}); err != nil {
		h.t.Fatal(err)
	}
}

// invitation is that of a visit, nil if there is none.
func (h *house) invitation(visit string) *api.Invitation {
	h.t.Helper()
	list, err := h.Invitations(h.t.Context(), admin)
	if err != nil {
		h.t.Fatal(err)
	}
	for _, v := range list {
		if v.Visit == visit {
			return v
		}
	}
	return nil
}

// A letter is a message as a reader sees it.
type letter struct {
	head   mail.Header
	plain  string
	method string
	event  goical.Event
}

// read reads a message with the standard library and go-ical.
func read(t *testing.T, text string) (l letter) {
	t.Helper()
	m, err := mail.ReadMessage(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	l.head = m.Header
	kind, params, err := mime.ParseMediaType(m.Header.Get("Content-Type"))
	if err != nil || kind != "multipart/alternative" {
		t.Fatalf("it is %s: %v", kind, err)
	}
	parts := multipart.NewReader(m.Body, params["boundary"])
	for n := 0; ; n++ {
		p, err := parts.NextRawPart()
		if err == io.EOF && n == 2 {
			return l
		}
		if err != nil {
			t.Fatal(n, err)
		}
		kind, params, err := mime.ParseMediaType(p.Header.Get("Content-Type"))
		if err != nil || !strings.EqualFold(params["charset"], "utf-8") {
			t.Errorf("part %d: %v %v", n, params, err)
		}
		var in io.Reader = p
		switch code := p.Header.Get("Content-Transfer-Encoding"); code {
		case "base64":
			in = base64.NewDecoder(base64.StdEncoding, p)
		case "quoted-printable":
			in = quotedprintable.NewReader(p)
		default:
			t.Errorf("part %d is written as %s", n, code)
		}
		body, err := io.ReadAll(in)
		if err != nil {
			t.Fatal(err)
		}
		switch {
		case n == 0 && kind == "text/plain":
			l.plain = string(body)
		case n == 1 && kind == "text/calendar":
			l.method = params["method"]
			c, err := goical.NewDecoder(bytes.NewReader(body)).Decode()
			if err != nil {
				t.Fatal(err)
			}
			if got := c.Props.Get("METHOD").Value; got != l.method {
				t.Errorf("the part says %s and its header %s", got, l.method)
			}
			l.event = c.Events()[0]
		default:
			t.Errorf("part %d is %s", n, kind)
		}
	}
}

func (l letter) prop(name string) string { return l.event.Props.Get(name).Value }

func TestMail_Ordinary(t *testing.T) {
	h := build(t)
	s := serve(t, "", nil, false)
	count := &tally{}
	r := h.runner(outbound.Options{Mail: s.way(outbound.Clear), Meter: count})
	h.byItself()
	if n := h.steps(r.Post); n != 0 {
		t.Errorf("%d messages to nobody", n)
	}
	contact(h, "H1013-F", "Ottoline Grébe", "grebe@fire.example")
	for range 3 {
		h.steps(r.Post)
		h.pass(time.Hour)
	}
	if got := s.all(); len(got) != 1 || got[0].to != "TO:<grebe@fire.example>" || !strings.HasPrefix(got[0].from, "FROM:<visits@pellanmere.example>") {
		t.Fatalf("given %+v", got)
	}
	l := read(t, s.all()[0].text)
	for _, name := range []string{"X-Mailer", "User-Agent"} {
		if got := l.head.Get(name); got != "" {
			t.Errorf("%s: %s", name, got)
		}
	}
	to, err := l.head.AddressList("To")
	if err != nil || to[0].Name != "Ottoline Grébe" {
		t.Errorf("To: %v, %v", to, err)
	}
	if at, err := l.head.Date(); err != nil || !at.Equal(morning) {
		t.Errorf("Date: %v, %v", at, err)
	}
	if got := l.head.Get("Subject"); got != "Final inspection of truck H1013, 2027-03-25" {
		t.Errorf("Subject: %s", got)
	}
	if l.method != "REQUEST" || l.prop("STATUS") != "CONFIRMED" || l.prop("SEQUENCE") != "0" || !strings.Contains(l.plain, "This day is agreed.") {
		t.Errorf("%s %s %s\n%s", l.method, l.prop("STATUS"), l.prop("SEQUENCE"), l.plain)
	}
	if at, err := l.event.DateTimeStart(nil); err != nil || at.Format(time.DateOnly) != "2027-03-25" {
		t.Errorf("it starts at %v, %v", at, err)
	}
	file, err := h.Invitation(t.Context(), admin, "H1013-F")
	if err != nil {
		t.Fatal(err)
	}
	c, err := goical.NewDecoder(bytes.NewReader(file)).Decode()
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"UID", "SEQUENCE", "DTSTAMP", "DTSTART"} {
		if got := c.Events()[0].Props.Get(name).Value; got != l.prop(name) {
			t.Errorf("%s is %s in the file and %s in the mail", name, got, l.prop(name))
		}
	}
	if v := h.invitation("H1013-F"); v.State != api.InvitationSent || v.SentAt.IsZero() || count.n["mail done"] != 1 {
		t.Errorf("shown as %+v; counted %v", v, count.n)
	}
	events, err := h.trail()
	if err != nil || !strings.Contains(events, "visits/H1013-F done REQUEST, revision 0 of the invitation, was mailed.") || strings.Contains(events, "grebe") {
		t.Errorf("the trail: %s %v", events, err)
	}
	h.silent("grebe", "Ottoline")
}

// TestMail_Revisions follows a visit through its life.
func TestMail_Revisions(t *testing.T) {
	h := build(t)
	s := serve(t, "", nil, false)
	r := h.runner(outbound.Options{Mail: s.way(outbound.Clear)})
	h.byItself()
	contact(h, "H1017-F", "", "chief@fire.example")
	h.steps(r.Post)
	for _, state := range []string{plant.Confirmed, plant.Cancelled, plant.Requested} {
		h.book("H1017-F", state)
		h.pass(time.Minute)
		h.steps(r.Post)
	}
	var got []string
	names := map[string]bool{}
	for _, g := range s.all() {
		l := read(t, g.text)
		got = append(got, fmt.Sprintf("%s %s %s: %s", l.method, l.prop("SEQUENCE"), l.prop("STATUS"), l.head.Get("Subject")))
		names[l.head.Get("Message-Id")] = true
	}
	want := `REQUEST 0 TENTATIVE: Final inspection of truck H1017, 2027-04-09
REQUEST 1 CONFIRMED: Changed: Final inspection of truck H1017, 2027-04-09
CANCEL 2 CANCELLED: Cancelled: final inspection of truck H1017, 2027-04-09`
	if strings.Join(got, "\n") != want {
		t.Errorf("mailed\n%s\nwant\n%s", strings.Join(got, "\n"), want)
	}
	if len(names) != 3 {
		t.Errorf("%d Message-IDs", len(names))
	}
}

// TestMail_Gone tells a customer of a visit that is no longer in the plant, and with a
// new address that customer gets the invitation anew.
func TestMail_Gone(t *testing.T) {
	h := build(t)
	s := serve(t, "", nil, false)
	r := h.runner(outbound.Options{Mail: s.way(outbound.Clear)})
	h.byItself()
	contact(h, "H1013-F", "", "chief@fire.example")
	h.steps(r.Post)
	contact(h, "H1013-F", "", "deputy@fire.example")
	h.steps(r.Post)
	h.book("H1013-F", plant.Cancelled)
	if _, err := h.Drop(t.Context(), admin, api.Intent{}, "visits/H1013-F"); err != nil {
		t.Fatal(err)
	}
	h.steps(r.Post)
	var got []string
	for _, g := range s.all() {
		l := read(t, g.text)
		got = append(got, fmt.Sprintf("%s %s %s", l.method, l.prop("SEQUENCE"), g.to))
	}
	want := "REQUEST 0 TO:<chief@fire.example>, REQUEST 0 TO:<deputy@fire.example>, CANCEL 1 TO:<deputy@fire.example>"
	if strings.Join(got, ", ") != want {
		t.Errorf("mailed %s\nwant %s", strings.Join(got, ", "), want)
	}
}

// TestMail_Runner mails in the background from Start to Close, and leaves nothing behind,
// also when the mail server never answers.
func TestMail_Runner(t *testing.T) {
	h := build(t)
	s := serve(t, "", nil, false)
	defer goleak.VerifyNone(t, goleak.IgnoreCurrent())
	took, never := make(chan bool), make(chan bool)
	s.reply = func(verb string, given int) string {
		if verb == "." {
			took <- true
			<-never
		}
		return ""
	}
	h.byItself()
	contact(h, "H1013-F", "", "chief@fire.example")
	r := outbound.New(h.App, outbound.Options{Clock: h.clock, Mail: s.way(outbound.Clear)})
	r.Start()
	<-took
	over, end := context.WithCancel(t.Context())
	end()
	if err := r.Close(over); err != nil {
		t.Error(err)
	}
	close(never)
	s.stop()
	if v := h.invitation("H1013-F"); v.State != api.InvitationDue || v.Attempts != 1 {
		t.Errorf("shown as %+v", v)
	}
}

// TestMail_Hostile keeps what people write where it belongs.
func TestMail_Hostile(t *testing.T) {
	for _, name := range []string{
		`Ann "Chief" Grebe`, `x" <evil@fire.example>, "y`, `<evil@fire.example>`, `a, b; c: d`, `=?utf-8?q?=0D=0ABcc:_evil@fire.example?=`, `Gr` + "\u202e" + `ebe`, `\`, strings.Repeat("é", 100),
	} {
		h := build(t)
		s := serve(t, "", nil, false)
		h.byItself()
		contact(h, "H1013-F", name, "chief@fire.example")
		h.steps(h.runner(outbound.Options{Mail: s.way(outbound.Clear)}).Post)
		if len(s.all()) != 1 {
			t.Fatalf("%q: %+v", name, h.invitation("H1013-F"))
		}
		l := read(t, s.all()[0].text)
		to, err := l.head.AddressList("To")
		if err != nil || len(to) != 1 || to[0].Address != "chief@fire.example" || to[0].Name != name || len(l.head) != 7 || s.all()[0].to != "TO:<chief@fire.example>" {
			t.Errorf("%q: to %v (%v), %d heads", name, to, err, len(l.head))
		}
	}
}

// TestMail_Held waits for a person, and for what that person saw.
func TestMail_Held(t *testing.T) {
	h := build(t)
	s := serve(t, "", nil, false)
	r := h.runner(outbound.Options{Mail: s.way(outbound.Clear)})
	contact(h, "H1017-F", "", "chief@fire.example")
	h.steps(r.Post)
	v := h.invitation("H1017-F")
	if v.State != api.InvitationHeld || v.Method != "REQUEST" || len(s.all()) != 0 {
		t.Fatalf("shown as %+v, mailed %d", v, len(s.all()))
	}
	h.book("H1017-F", plant.Confirmed)
	if _, err := h.ReleaseInvitation(t.Context(), admin, "H1017-F", v.Seen); api.AsProblem(err).Kind != api.Stale {
		t.Errorf("released something else: %v", err)
	}
	reader := api.Actor{Name: "reader", Acts: api.ActsOf(api.RoleReader)}
	if _, err := h.ReleaseInvitation(t.Context(), reader, "H1017-F", ""); api.AsProblem(err).Kind != api.Forbidden {
		t.Errorf("released by a reader: %v", err)
	}
	if v, err := h.ReleaseInvitation(t.Context(), admin, "H1017-F", h.invitation("H1017-F").Seen); err != nil || v.State != api.InvitationDue {
		t.Fatalf("%+v, %v", v, err)
	}
	h.steps(r.Post)
	if len(s.all()) != 1 {
		t.Fatalf("mailed %d", len(s.all()))
	}
	h.book("H1017-F", plant.Cancelled) // needs another release
	h.steps(r.Post)
	if v := h.invitation("H1017-F"); len(s.all()) != 1 || v.State != api.InvitationHeld || v.Method != "CANCEL" {
		t.Errorf("shown as %+v, mailed %d", v, len(s.all()))
	}
	if _, err := h.ReleaseInvitation(t.Context(), admin, "H1013-F", ""); api.AsProblem(err).Kind != api.Conflict {
		t.Errorf("released to nobody: %v", err)
	}
}

// TestMail_Later is tried again until it is taken: as the same message.
func TestMail_Later(t *testing.T) {
	for name, reply := range map[string]func(verb string, given int) string{
		"greylisted":        func(verb string, given int) string { return map[string]string{".": "451 later"}[verb] },
		"recipient busy":    func(verb string, given int) string { return map[string]string{"RCPT": "450 later"}[verb] },
		"sender not set up": func(verb string, given int) string { return map[string]string{"MAIL": "550 who are you"}[verb] },
		"no welcome": func(verb string, given int) string {
			return map[string]string{"EHLO": "421 later", "HELO": "421 later"}[verb]
		},
		"lost in the middle":  func(verb string, given int) string { return map[string]string{"DATA": "drop"}[verb] },
		"lost at the answer":  func(verb string, given int) string { return map[string]string{".": "drop"}[verb] },
		"taken, then trouble": func(verb string, given int) string { return map[string]string{"QUIT": "drop"}[verb] },
	} {
		t.Run(name, func(t *testing.T) {
			h := build(t)
			s := serve(t, "", nil, false)
			var mu sync.Mutex
			trouble := true
			s.reply = func(verb string, given int) string {
				mu.Lock()
				defer mu.Unlock()
				if trouble {
					return reply(verb, given)
				}
				return ""
			}
			r := h.runner(outbound.Options{Mail: s.way(outbound.Clear)})
			h.byItself()
			contact(h, "H1013-F", "Ottoline Grebe", "grebe@fire.example")
			sent := func() bool { return h.invitation("H1013-F").State == api.InvitationSent }
			tries := h.until(1, r.Post, func() bool { return sent() || h.clock().Sub(morning) > 3*time.Hour })
			if name == "taken, then trouble" {
				if tries != 1 || !sent() || len(s.all()) != 1 {
					t.Errorf("%d tries, given %d", tries, len(s.all()))
				}
				return
			}
			if v := h.invitation("H1013-F"); v.State != api.InvitationDue || v.Problem == "" || v.Attempts < 5 || v.Attempts != tries {
				t.Errorf("after %d tries shown as %+v", tries, v)
			}
			h.silent("grebe", "Ottoline")
			mu.Lock()
			trouble = false
			mu.Unlock()
			h.until(1, r.Post, sent)
			for range 24 {
				h.pass(time.Hour)
				h.steps(r.Post)
			}
			all := s.all()
			for _, g := range all {
				if g.text != all[0].text {
					t.Errorf("what was tried again is another message:\n%s\n%s", all[0].text, g.text)
				}
			}
			if taken := len(all) - strings.Count(name, "greylisted")*tries - strings.Count(name, "answer")*tries; taken != 1 {
				t.Errorf("taken %d times after the trouble", taken)
			}
		})
	}
}

// TestMail_Refused is shown, and tried again only when a person says so.
func TestMail_Refused(t *testing.T) {
	h := build(t)
	s := serve(t, "", nil, false)
	s.reply = func(verb string, given int) string {
		return map[string]string{"RCPT": "550 <grebe@fire.example>: no such Ottoline"}[verb]
	}
	r := h.runner(outbound.Options{Mail: s.way(outbound.Clear)})
	h.byItself()
	contact(h, "H1013-F", "Ottoline Grebe", "grebe@fire.example")
	if n := h.until(4, r.Post, func() bool { return false }); n != 1 {
		t.Errorf("%d tries", n)
	}
	v := h.invitation("H1013-F")
	if v.State != api.InvitationRefused || v.Problem != "the mail server answered 550 to the address of the contact" {
		t.Errorf("shown as %+v", v)
	}
	events, err := h.trail()
	if err != nil || !strings.Contains(events, "visits/H1013-F failed REQUEST, revision 0 of the invitation, was not mailed.") || strings.Contains(events, "grebe") {
		t.Errorf("the trail: %s %v", events, err)
	}
	h.silent("grebe", "Ottoline")
	s.reply = nil
	if _, err := h.ReleaseInvitation(t.Context(), admin, "H1013-F", v.Seen); err != nil {
		t.Fatal(err)
	}
	h.steps(r.Post)
	if v := h.invitation("H1013-F"); v.State != api.InvitationSent || len(s.all()) != 1 {
		t.Errorf("shown as %+v, given %d", v, len(s.all()))
	}
}

// TestMail_Away has no server for a while. What the customer gets when there is one is
// how things are then, once.
func TestMail_Away(t *testing.T) {
	h := build(t)
	s := serve(t, "", nil, false)
	address := s.listen.Addr().String()
	s.stop()
	r := h.runner(outbound.Options{Mail: s.way(outbound.Clear)})
	h.byItself()
	contact(h, "H1017-F", "", "chief@fire.example")
	h.until(1, r.Post, func() bool { return h.clock().Sub(morning) > 5*time.Hour })
	if v := h.invitation("H1017-F"); v.State != api.InvitationDue || !strings.Contains(v.Problem, "cannot be reached") {
		t.Errorf("shown as %+v", v)
	}
	h.book("H1017-F", plant.Confirmed)
	back := serve(t, address, nil, false)
	h.until(1, r.Post, func() bool { return false })
	if len(back.all()) != 1 {
		t.Fatalf("given %d", len(back.all()))
	}
	if l := read(t, back.all()[0].text); l.prop("SEQUENCE") != "0" || l.prop("STATUS") != "CONFIRMED" {
		t.Errorf("revision %s, %s", l.prop("SEQUENCE"), l.prop("STATUS"))
	}
}

// TestMail_TLS says nothing before it is secure.
func TestMail_TLS(t *testing.T) {
	of, trust := certificate(t)
	for _, x := range []struct {
		name, security string
		server         *tls.Config
		first          bool
		trust          *tls.Config
		sent           bool
	}{
		{"starttls", outbound.StartTLS, of, false, trust, true},
		{"tls", outbound.TLS, of, true, trust, true},
		{"a server without starttls", outbound.StartTLS, nil, false, trust, false},
		{"a certificate nobody knows", outbound.StartTLS, of, false, nil, false},
		{"a certificate nobody knows, from the first byte", outbound.TLS, of, true, nil, false},
	} {
		t.Run(x.name, func(t *testing.T) {
			h := build(t)
			s := serve(t, "", x.server, x.first)
			way := s.way(x.security)
			way.TLS, way.User, way.Password = x.trust, "wetdown", "hushhush"
			h.byItself()
			contact(h, "H1013-F", "", "grebe@fire.example")
			h.steps(h.runner(outbound.Options{Mail: way}).Post)
			if all := s.all(); len(all) == 1 != x.sent || x.sent && !all[0].secure {
				t.Errorf("given %+v; shown as %+v", all, h.invitation("H1013-F"))
			}
			h.silent("hushhush", "grebe")
		})
	}
}

// TestMail_Many has several runners at work: every message goes out once.
func TestMail_Many(t *testing.T) {
	h := build(t)
	s := serve(t, "", nil, false)
	h.byItself()
	visits := []string{"H1012-F", "H1013-F", "H1016-F", "H1017-F", "H1019-F"}
	for _, v := range visits {
		contact(h, v, "", strings.ToLower(v)+"@fire.example")
	}
	var all sync.WaitGroup
	for range 4 {
		r := h.runner(outbound.Options{Mail: s.way(outbound.Clear)})
		all.Go(func() {
			for range 20 {
				if _, err := r.Post(context.Background()); err != nil {
					t.Error(err)
				}
			}
		})
	}
	all.Wait()
	seen := map[string]int{}
	for _, g := range s.all() {
		seen[read(t, g.text).head.Get("Message-Id")]++
	}
	for id, n := range seen {
		if n != 1 {
			t.Errorf("%s was given %d times", id, n)
		}
	}
	for _, v := range visits {
		if got := h.invitation(v); got == nil || got.State != api.InvitationSent {
			t.Errorf("%s: %+v", v, got)
		}
	}
}

// mailerEnv names the database whose mail this program sends, as a process of its own.
const mailerEnv = "WETDOWN_TEST_MAILER"

// mailer mails what is due; its standard input has the port and the hour.
func mailer(file string) error {
	var port int
	var at int64
	if _, err := fmt.Fscan(bufio.NewReader(os.Stdin), &port, &at); err != nil {
		return err
	}
	clock := func() time.Time { return time.Unix(at, 0) }
	app, s, err := open(file, clock)
	if err != nil {
		return err
	}
	r := outbound.New(app, outbound.Options{Clock: clock, Mail: &outbound.MailServer{Host: "127.0.0.1", Port: port, Security: outbound.Clear}})
	for worked := true; worked && err == nil; {
		worked, err = r.Post(context.Background())
	}
	return errors.Join(err, r.Close(context.Background()), app.Close(), s.Close())
}

// TestMail_Kill kills the process that sends when the mail server has the message and
// has not answered. The next process sends the same message once more, and no
// other one.
func TestMail_Kill(t *testing.T) {
	h := build(t)
	s := serve(t, "", nil, false)
	h.byItself()
	contact(h, "H1013-F", "", "grebe@fire.example")
	run := func(at time.Time, during func(*exec.Cmd)) error {
		self, err := os.Executable()
		if err != nil {
			t.Fatal(err)
		}
		c := exec.Command(self)
		c.Env = append(os.Environ(), mailerEnv+"="+h.file)
		c.Stdin = strings.NewReader(fmt.Sprintf("%d %d\n", s.way("").Port, at.Unix()))
		c.Stderr = os.Stderr
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		during(c)
		return c.Wait()
	}
	took, dead := make(chan bool), make(chan bool)
	s.reply = func(verb string, given int) string {
		if verb != "." {
			return ""
		}
		took <- true
		<-dead
		return "drop"
	}
	if err := run(morning, func(c *exec.Cmd) {
		<-took
		if err := c.Process.Kill(); err != nil {
			t.Error(err)
		}
	}); err == nil {
		t.Fatal("the process was killed, and says that all is well")
	}
	dead <- true
	s.reply = nil
	for _, after := range []time.Duration{time.Minute, 3 * time.Minute, time.Hour} { // the first is too early
		if err := run(morning.Add(after), func(*exec.Cmd) {}); err != nil {
			t.Fatal(err)
		}
	}
	if all := s.all(); len(all) != 2 || all[0].text != all[1].text {
		t.Errorf("given %d messages", len(all))
	}
	if v := h.invitation("H1013-F"); v.State != api.InvitationSent {
		t.Errorf("shown as %+v", v)
	}
}

// TestInvitation_File can be had without a contact, and not for a visit that nobody was
// promised.
func TestInvitation_File(t *testing.T) {
	h := build(t)
	text, err := h.Invitation(t.Context(), admin, "H1013-F")
	if err != nil || !bytes.Contains(text, []byte("METHOD:PUBLISH")) {
		t.Errorf("%s, %v", text, err)
	}
	h.book("H1013-F", plant.Cancelled)
	if _, err := h.Invitation(t.Context(), admin, "H1013-F"); api.AsProblem(err).Kind != api.Conflict || api.AsProblem(err).Next == "" {
		t.Errorf("cancelled and never sent: %v", err)
	}
	if _, err := h.Invitation(t.Context(), admin, "H1013-X"); api.AsProblem(err).Kind != api.NotFound {
		t.Errorf("no such visit: %v", err)
	}
	for _, wrong := range []string{"", "chief", "chief@", "a@b@c.example", "Chief <chief@fire.example>", "chief@fire.example\r\nBcc: x@y.example", "ché@fire.example", "a..b@fire.example"} {
		if err := h.SetContact(t.Context(), admin, api.Contact{Customer: "none", Mail: wrong}); api.AsProblem(err).Kind != api.Invalid {
			t.Errorf("%q: %v", wrong, err)
		}
	}
}
