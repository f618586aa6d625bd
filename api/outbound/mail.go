package outbound

import (
	"cmp"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	netmail "net/mail"
	"strings"
	"time"

	"github.com/wneessen/go-mail"

	"wetdown/api"
	"wetdown/api/ical"
)

// Ways to a mail server.
const (
	StartTLS = "starttls" // begins in clear and must change to TLS before anything is said
	TLS      = "tls"      // TLS from the first byte
	Clear    = "clear"    // no TLS, for a server on this machine
)

// A MailServer takes messages for everybody.
type MailServer struct {
	Host     string
	Port     int
	Security string        // StartTLS, TLS or Clear; "": StartTLS
	User     string        // "": nobody logs in
	Password string        // of User; never sent in clear
	Hello    string        // name of this machine, which greets with it; "": localhost
	Timeout  time.Duration // of the connection, and again of each message; 0: 20 s
	TLS      *tls.Config   // nil: as the system trusts
}

// A refusal is why a message was not sent.
type refusal struct {
	text    string // without addresses of people, which a server's own words may have
	final   bool   // the server does not want the message, now or later
	unknown bool   // it may have been sent
}

// send hands a message to the server.
func (s *MailServer) send(ctx context.Context, m *api.Message) *refusal {
	ctx, done := context.WithCancel(ctx) // closes the connection, whatever happens
	defer done()
	text, err := compose(m)
	if err != nil {
		return &refusal{text: "the message cannot be written: look at the contact and at the sender's address", final: true}
	}
	c, err := s.client(ctx)
	if err != nil {
		return &refusal{text: "the mail server cannot be used as it is configured: " + err.Error()}
	}
	if err := c.DialWithContext(ctx); err != nil {
		return &refusal{text: "the mail server cannot be reached, or does not let Wetdown in: " + reply(err)}
	}
	defer c.Close() // what it says about goodbyes does not matter
	if err = c.Send(text); err == nil || text.IsDelivered() {
		return nil
	}
	var e *mail.SendError
	if !errors.As(err, &e) {
		return &refusal{text: "the mail server was lost", unknown: true}
	}
	// A no to the sender is about how this is set up, and goes away with that.
	no := &refusal{text: fmt.Sprintf("the mail server answered %d", e.ErrorCode()), final: e.ErrorCode() >= 500 && e.Reason != mail.ErrSMTPMailFrom}
	switch {
	case e.ErrorCode() == 0:
		no.text = "the mail server was lost, or did not answer in time"
		no.unknown = e.Reason == mail.ErrSMTPDataClose
	case e.Reason == mail.ErrSMTPRcptTo:
		no.text += " to the address of the contact"
	case e.Reason == mail.ErrSMTPMailFrom:
		no.text += " to the address of the sender"
	}
	return no
}

// reply is the code in what a server said, or else what went wrong on the way.
func reply(err error) string {
	var n net.Error
	if errors.As(err, &n) {
		return n.Error()
	}
	if text := err.Error(); len(text) >= 3 && strings.Trim(text[:3], "0123456789") == "" {
		return "it answered " + text[:3]
	}
	return err.Error()
}

// client is the way to the server.
func (s *MailServer) client(ctx context.Context) (*mail.Client, error) {
	wait := cmp.Or(s.Timeout, 20*time.Second)
	o := []mail.Option{
		mail.WithPort(s.Port), mail.WithTimeout(wait), mail.WithHELO(cmp.Or(s.Hello, "localhost")),
		mail.WithoutNoop(), mail.WithoutRset(),
	}
	trust := &tls.Config{ServerName: s.Host, MinVersion: tls.VersionTLS12}
	if s.TLS != nil {
		trust = s.TLS
	}
	o = append(o, mail.WithTLSConfig(trust))
	switch cmp.Or(s.Security, StartTLS) {
	case StartTLS:
		o = append(o, mail.WithTLSPolicy(mail.TLSMandatory))
	case TLS:
		o = append(o, mail.WithSSL())
	case Clear:
		o = append(o, mail.WithTLSPolicy(mail.NoTLS))
	default:
		return nil, fmt.Errorf("%q is no way to a mail server: write %s, %s or %s", s.Security, StartTLS, TLS, Clear)
	}
	if s.Security != TLS {
		o = append(o, mail.WithDialContextFunc(func(dialling context.Context, network, address string) (net.Conn, error) {
			conn, err := (&net.Dialer{}).DialContext(dialling, network, address)
			if err == nil {
				context.AfterFunc(ctx, func() { conn.Close() })
			}
			return conn, err
		}))
	}
	if s.User != "" {
		o = append(o, mail.WithSMTPAuth(mail.SMTPAuthAutoDiscover), mail.WithUsername(s.User), mail.WithPassword(s.Password))
	}
	return mail.NewClient(s.Host, o...)
}

// compose writes a message: the same bytes every time.
func compose(m *api.Message) (*mail.Msg, error) {
	e := &m.Event
	method, subject, close := "REQUEST", e.Summary, "The entry for your calendar comes with this message. Please accept or decline it there, or answer this message."
	write := ical.Request
	switch {
	case e.Status == ical.Cancelled:
		method, close, write = "CANCEL", "Your calendar can take the entry out by what comes with this message.", ical.Cancel
	case m.Again:
		subject = "Changed: " + subject
	}
	entry, err := write(*e)
	if err != nil {
		return nil, err
	}
	mark, _, _ := strings.Cut(m.ID, "@")
	msg := mail.NewMsg(mail.WithNoDefaultUserAgent(), mail.WithBoundary(mark), mail.WithEncoding(mail.EncodingQP))
	msg.FromMailAddress(&netmail.Address{Name: e.Organizer.Name, Address: e.Organizer.Mail})
	for _, p := range e.Attendees {
		msg.AddToMailAddress(&netmail.Address{Name: p.Name, Address: p.Mail})
	}
	msg.SetMessageIDWithValue(m.ID)
	msg.SetDateWithValue(e.Stamp)
	msg.Subject(subject + ", " + e.Start.Date().String())
	msg.SetBodyString(mail.TypeTextPlain, strings.TrimRight(e.Description, "\n")+"\n\n"+close+"\n")
	msg.AddAlternativeString(mail.ContentType("text/calendar; method="+method), string(entry), mail.WithPartEncoding(mail.EncodingB64))
	return msg, nil
}
