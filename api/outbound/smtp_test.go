package outbound_test

import (
	"bufio"
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"net"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"wetdown/api/outbound"
)

// A server is a mail server of RFC 5321, as far as these tests need one.
type server struct {
	t      *testing.T
	listen net.Listener
	tls    *tls.Config // nil: none
	// reply is what it answers to a command ("" its own way), by how many messages it was
	// given before. "drop" breaks the line.
	reply func(verb string, given int) string

	mu    sync.Mutex
	given []given // all that came in whole, answered or not
	open  map[net.Conn]bool
	ended sync.WaitGroup
}

// given is a message, and to whom it goes.
type given struct {
	from, to string
	text     string
	secure   bool
}

// serve starts a server on an address, "" for any.
func serve(t *testing.T, address string, secure *tls.Config, fromTheFirstByte bool) *server {
	t.Helper()
	if address == "" {
		address = "127.0.0.1:0"
	}
	l, err := net.Listen("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	s := &server{t: t, listen: l, tls: secure, open: map[net.Conn]bool{}}
	s.ended.Go(func() {
		for {
			conn, err := l.Accept()
			if err != nil {
				return
			}
			s.mu.Lock()
			s.open[conn] = true
			s.mu.Unlock()
			s.ended.Go(func() {
				talk := conn
				if fromTheFirstByte {
					talk = tls.Server(conn, secure)
				}
				s.talk(talk, fromTheFirstByte)
				conn.Close()
			})
		}
	})
	t.Cleanup(s.stop)
	return s
}

func (s *server) stop() {
	s.listen.Close()
	s.mu.Lock()
	for conn := range s.open {
		conn.Close()
	}
	s.mu.Unlock()
	s.ended.Wait()
}

func (s *server) all() []given {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.given)
}

// talk speaks on one connection.
func (s *server) talk(conn net.Conn, secure bool) {
	in := bufio.NewReader(conn)
	fmt.Fprint(conn, "220 mx.example ready\r\n")
	var m given
	for {
		line, err := in.ReadString('\n')
		if err != nil {
			return
		}
		verb, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
		verb = strings.ToUpper(verb)
		s.mu.Lock()
		n := len(s.given)
		s.mu.Unlock()
		if s.reply != nil {
			if said := s.reply(verb, n); said == "drop" {
				return
			} else if said != "" {
				fmt.Fprintf(conn, "%s\r\n", said)
				continue
			}
		}
		switch verb {
		case "EHLO":
			fmt.Fprint(conn, "250-mx.example\r\n")
			if s.tls != nil && !secure {
				fmt.Fprint(conn, "250-STARTTLS\r\n")
			}
			fmt.Fprint(conn, "250-AUTH PLAIN\r\n250 8BITMIME\r\n")
		case "STARTTLS":
			fmt.Fprint(conn, "220 go ahead\r\n")
			s.talk2(tls.Server(conn, s.tls))
			return
		case "AUTH":
			fmt.Fprint(conn, "235 welcome\r\n")
		case "MAIL":
			m = given{from: rest, secure: secure}
			fmt.Fprint(conn, "250 ok\r\n")
		case "RCPT":
			m.to = rest
			fmt.Fprint(conn, "250 ok\r\n")
		case "DATA":
			fmt.Fprint(conn, "354 go ahead\r\n")
			var b strings.Builder
			for {
				line, err := in.ReadString('\n')
				if err != nil {
					return
				}
				if line == ".\r\n" {
					break
				}
				b.WriteString(strings.TrimPrefix(line, "."))
			}
			m.text = b.String()
			s.mu.Lock()
			s.given = append(s.given, m)
			s.mu.Unlock()
			if s.reply != nil {
				if said := s.reply(".", n); said == "drop" {
					return
				} else if said != "" {
					fmt.Fprintf(conn, "%s\r\n", said)
					continue
				}
			}
			fmt.Fprint(conn, "250 taken\r\n")
		case "QUIT":
			fmt.Fprint(conn, "221 bye\r\n")
			return
		default:
			fmt.Fprint(conn, "250 ok\r\n")
		}
	}
}

// talk2 goes on under TLS.
func (s *server) talk2(conn net.Conn) {
	in := bufio.NewReader(conn)
	line, err := in.ReadString('\n') // the second greeting; the first line of talk would be one too many
	if err != nil || !strings.HasPrefix(line, "EHLO") {
		return // also when the other side does not trust this one
	}
	fmt.Fprint(conn, "250-mx.example\r\n250-AUTH PLAIN\r\n250 8BITMIME\r\n")
	s.talk(quiet{conn, in}, true)
}

// quiet is a connection that has greeted before.
type quiet struct {
	net.Conn
	in *bufio.Reader
}

func (q quiet) Read(b []byte) (int, error) { return q.in.Read(b) }

func (q quiet) Write(b []byte) (int, error) {
	if strings.HasPrefix(string(b), "220 mx") {
		return len(b), nil
	}
	return q.Conn.Write(b)
}

// way is how to reach the server.
func (s *server) way(security string) *outbound.MailServer {
	at := s.listen.Addr().(*net.TCPAddr)
	return &outbound.MailServer{Host: "127.0.0.1", Port: at.Port, Security: security, Hello: "wetdown.example", Timeout: time.Minute}
}

// certificate is that of a server on 127.0.0.1, and what trusts it.
func certificate(t *testing.T) (of, trust *tls.Config) {
	t.Helper()
	made := httptest.NewTLSServer(nil)
	defer made.Close()
	roots := x509.NewCertPool()
	roots.AddCert(made.Certificate())
	return &tls.Config{Certificates: made.TLS.Certificates}, &tls.Config{RootCAs: roots, ServerName: "127.0.0.1"}
}
