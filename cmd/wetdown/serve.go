package main

import (
	"context"
	"crypto/tls"
	"net"
	"net/mail"
	"net/netip"
	"net/url"
	"os"
	"runtime"
	"slices"
	"strconv"
	"strings"

	"wetdown/api"
	"wetdown/api/oidc"
	"wetdown/api/outbound"
)

type serveCmd struct {
	databaseFlag
	Listen      string   `default:"127.0.0.1:8080" env:"WETDOWN_LISTEN" placeholder:"ADDRESS" help:"Where to listen, such as 127.0.0.1:8080 (the default) or :443. Beyond this machine it takes TLS, here or by a proxy."`
	Plant       string   `env:"WETDOWN_PLANT" placeholder:"FILE" help:"Plant file that is loaded if the database is empty."`
	TLSCert     string   `name:"tls-cert" env:"WETDOWN_TLS_CERT" placeholder:"FILE" help:"Certificate chain (PEM), to speak TLS here."`
	TLSKey      string   `name:"tls-key" env:"WETDOWN_TLS_KEY" placeholder:"FILE" help:"Its private key (PEM)."`
	BehindProxy []string `env:"WETDOWN_BEHIND_PROXY" placeholder:"CIDR" help:"Addresses of proxies that speak TLS, such as 10.0.0.0/8. Their word on who asks (X-Forwarded-For, X-Forwarded-Proto) is taken."`
	PublicURL   string   `name:"public-url" env:"WETDOWN_PUBLIC_URL" placeholder:"URL" help:"Address under which people reach the service, such as https://wetdown.plant.example."`
	Solves      int      `default:"1" env:"WETDOWN_SOLVES" placeholder:"N" help:"Questions to the planner that are answered at the same time. Default: 1."`
	mailFlags
	oidcFlags
	HookAllow []string `name:"hook-allow" env:"WETDOWN_HOOK_ALLOW" placeholder:"CIDR" help:"Addresses within the house that webhooks may have, beside public ones."`
}

// mailFlags say how invitations are mailed.
type mailFlags struct {
	SMTP         string `name:"smtp" env:"WETDOWN_SMTP" placeholder:"URL" help:"Mail server: smtp://USER@HOST:587 (STARTTLS), smtps://USER@HOST:465 (TLS), or smtp+clear://127.0.0.1:25 without TLS. Without it nothing is mailed."`
	SMTPPassword string `name:"smtp-password" env:"WETDOWN_SMTP_PASSWORD" placeholder:"TEXT" help:"Password of its user. Better set in the environment, where nobody sees it in a list of programs."`
	MailFrom     string `name:"mail-from" env:"WETDOWN_MAIL_FROM" placeholder:"ADDRESS" help:"Sender of invitations: \"Name <visits@plant.example>\". Without it there are none."`
	MailDomain   string `name:"mail-domain" env:"WETDOWN_MAIL_DOMAIN" placeholder:"DOMAIN" help:"Part of the names of all invitations, which may never change. Default: that of the sender."`
	PlantAddress string `name:"plant-address" env:"WETDOWN_PLANT_ADDRESS" placeholder:"TEXT" help:"Address of the plant, for invitations."`
	Arrival      string `env:"WETDOWN_ARRIVAL" placeholder:"TEXT" help:"Where to come to and what to bring, for invitations."`
}

// oidcFlags say which identity provider people may log in with.
type oidcFlags struct {
	OIDCIssuer string   `name:"oidc-issuer" env:"WETDOWN_OIDC_ISSUER" placeholder:"URL" help:"Identity provider (OpenID Connect) that people may log in with, at /oidc/login. It takes --public-url, and sends people back to /oidc/callback there."`
	OIDCClient string   `name:"oidc-client" env:"WETDOWN_OIDC_CLIENT" placeholder:"ID" help:"What the provider calls this service."`
	OIDCSecret string   `name:"oidc-secret" env:"WETDOWN_OIDC_SECRET" placeholder:"TEXT" help:"The secret between the two. Better set in the environment."`
	OIDCScopes []string `name:"oidc-scopes" env:"WETDOWN_OIDC_SCOPES" placeholder:"NAME" help:"Scopes beside openid and profile, such as the one that brings groups."`
	OIDCGroups string   `name:"oidc-groups" env:"WETDOWN_OIDC_GROUPS" placeholder:"CLAIM" help:"The claim that has the groups. Default: groups."`
	OIDCRole   []string `name:"oidc-role" env:"WETDOWN_OIDC_ROLE" placeholder:"GROUP=ROLE" help:"The role of whoever is in a group. Who is in none is refused."`
}

// Help says more than one line.
func (*serveCmd) Help() string {
	return `The service keeps a plant in a database and answers people and programs over HTTP; /openapi.json describes it.
On its first start it makes the account admin, and shows its password this once. Every flag can be set in the
environment as well, as WETDOWN_ and its name. With --json, what it logs is JSON.`
}

func (c *serveCmd) run(s *session) (int, error) {
	if s.Out != "" || s.AsOf != "" || s.Limit != 0 {
		return 0, refuse("serve takes no -o, --as-of and --limit: leave them out")
	}
	o, err := c.options(s)
	if err != nil {
		return 0, err
	}
	if os.Getenv("GOMAXPROCS") == "" {
		runtime.GOMAXPROCS(runtime.GOMAXPROCS(0) + busy + o.solves)
	}
	v, err := openService(s.ctx, o)
	if err != nil {
		return 0, refuse("%v", err)
	}
	if err := c.begin(s, v); err != nil {
		v.close(s.ctx)
		return 0, err
	}
	if err := v.serve(s.ctx); err != nil {
		return 0, refuse("the service ended: %v", err)
	}
	s.note("the service has ended.")
	return done, nil
}

// busy is how many places the scheduler has beside those of the processors and of questions
// to the planner. Whoever computes at length keeps a place for 10 ms at a time, so with as many
// places as processors every answer would wait behind the planner more than once. The
// system is fairer between threads: see Measured in DEVELOPERS.md.
const busy = 3

// begin loads the plant into an empty database, and shows what a person has to know.
func (c *serveCmd) begin(s *session, v *service) error {
	login, password, made, err := v.app.FirstStart(s.ctx)
	if err != nil {
		return err
	}
	if made {
		s.note("an account was made, and its password is shown this once: log in as %s with %s and change it.", login, password)
	}
	if c.Plant != "" {
		if err := c.load(s, v); err != nil {
			return err
		}
	}
	s.note("listening on %s", v.url)
	return nil
}

// load loads the plant file if there is no plant yet.
func (c *serveCmd) load(s *session, v *service) error {
	_, err := v.app.State(s.ctx, api.Service, 0)
	if err == nil {
		s.note("there is a plant in the database already: %s is left aside.", c.Plant)
		return nil
	}
	if api.AsProblem(err) != api.ErrEmpty {
		return err
	}
	p, err := s.load(c.Plant)
	if err != nil {
		return err
	}
	if _, err := v.app.Load(s.ctx, api.Service, api.Intent{Why: "The service was started with this file."}, p); err != nil {
		return refuse("%v", err)
	}
	s.note("%s was loaded.", c.Plant)
	return nil
}

// options reads the flags.
func (c *serveCmd) options(s *session) (o serviceOptions, err error) {
	o = serviceOptions{db: c.DB, listen: c.Listen, solves: max(1, c.Solves), publicURL: strings.TrimSuffix(c.PublicURL, "/"), clock: s.clock, log: newLog(s.stderr, s.JSON)}
	if o.proxies, err = prefixes("--behind-proxy", c.BehindProxy); err != nil {
		return o, err
	}
	if o.hooks, err = prefixes("--hook-allow", c.HookAllow); err != nil {
		return o, err
	}
	if o.publicURL != "" {
		u, err := url.Parse(o.publicURL)
		if err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Host == "" || u.Path != "" || u.RawQuery != "" || u.User != nil {
			return o, refuse("--public-url %s: write scheme and host alone, such as https://wetdown.plant.example", c.PublicURL)
		}
	}
	switch {
	case (c.TLSCert == "") != (c.TLSKey == ""):
		return o, refuse("--tls-cert and --tls-key belong together: give both")
	case c.TLSCert != "" && len(o.proxies) > 0:
		return o, refuse("--tls-cert and --behind-proxy do not go together: TLS is spoken here, or by the proxy")
	case c.TLSCert != "":
		pair, err := tls.LoadX509KeyPair(c.TLSCert, c.TLSKey)
		if err != nil {
			return o, refuse("--tls-cert %s and --tls-key %s cannot be used: %v: name a certificate chain and its private key, both PEM", c.TLSCert, c.TLSKey, cause(err))
		}
		o.tls = &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12}
	case len(o.proxies) == 0 && !loopback(s.ctx, c.Listen):
		return o, refuse("--listen %s can be reached from other machines, and passwords would be sent in clear: speak TLS with --tls-cert and --tls-key, or name the proxy that does with --behind-proxy", c.Listen)
	}
	if err := c.provider(&o); err != nil {
		return o, err
	}
	return o, c.mail(&o)
}

// provider reads the flags about the identity provider.
func (c *oidcFlags) provider(o *serviceOptions) error {
	if c.OIDCIssuer == "" {
		return nil
	}
	switch {
	case o.publicURL == "":
		return refuse("--oidc-issuer needs the address that people are sent back to: give --public-url")
	case c.OIDCClient == "" || c.OIDCSecret == "":
		return refuse("--oidc-issuer needs --oidc-client and --oidc-secret: the provider gives both when this service is made known there")
	case len(c.OIDCRole) == 0:
		return refuse("--oidc-issuer needs at least one --oidc-role GROUP=ROLE: without it everybody would be refused")
	}
	o.provider = &oidc.Config{
		Issuer: c.OIDCIssuer, ClientID: c.OIDCClient, ClientSecret: c.OIDCSecret, Redirect: o.publicURL + "/oidc/callback",
		Scopes: c.OIDCScopes, GroupsClaim: c.OIDCGroups, Clock: o.clock,
	}
	for _, text := range c.OIDCRole {
		group, role, ok := strings.Cut(text, "=")
		if !ok || !slices.Contains(api.Roles(), role) {
			return refuse("--oidc-role %s: write GROUP=ROLE, with one of the roles %s", text, strings.Join(api.Roles(), ", "))
		}
		o.provider.Roles = append(o.provider.Roles, oidc.GroupRole{Group: group, Role: role})
	}
	return nil
}

// loopback reports whether an address can be reached from this machine alone.
func loopback(ctx context.Context, listen string) bool {
	host, _, err := net.SplitHostPort(listen)
	if err != nil || host == "" {
		return err != nil // that it is no address says who listens on it
	}
	list, err := net.DefaultResolver.LookupNetIP(ctx, "ip", host)
	for _, a := range list {
		if !a.Unmap().IsLoopback() {
			return false
		}
	}
	return err == nil
}

// prefixes reads ranges of addresses; one address is a range.
func prefixes(flag string, list []string) (out []netip.Prefix, err error) {
	for _, text := range list {
		p, err := netip.ParsePrefix(text)
		if a, single := netip.ParseAddr(text); single == nil {
			p, err = netip.PrefixFrom(a, a.BitLen()), nil
		}
		if err != nil {
			return nil, refuse("%s %s is no range of addresses: write one such as 10.0.0.0/8, or one address", flag, text)
		}
		out = append(out, p.Masked())
	}
	return out, nil
}

// mail reads the flags about mail.
func (c *mailFlags) mail(o *serviceOptions) error {
	if c.MailFrom == "" {
		if c.SMTP != "" {
			return refuse("--smtp needs a sender: give --mail-from \"Name <visits@plant.example>\"")
		}
		return nil
	}
	from, err := mail.ParseAddress(c.MailFrom)
	if err != nil {
		return refuse("--mail-from %s is no address: write \"Name <visits@plant.example>\"", c.MailFrom)
	}
	o.inviter = api.Inviter{Domain: c.MailDomain, Name: from.Name, Mail: from.Address, Address: c.PlantAddress, Arrival: c.Arrival}
	if o.inviter.Domain == "" {
		_, o.inviter.Domain, _ = strings.Cut(from.Address, "@")
	}
	if c.SMTP == "" {
		return nil
	}
	u, err := url.Parse(c.SMTP)
	if err != nil || u.Hostname() == "" {
		return refuse("--smtp is no address of a mail server: write smtp://USER@HOST:587 or smtps://USER@HOST:465")
	}
	m := &outbound.MailServer{Host: u.Hostname(), User: u.User.Username(), Password: c.SMTPPassword}
	if text, ok := u.User.Password(); ok {
		m.Password = text
	}
	port := 587
	switch u.Scheme {
	case "smtp":
		m.Security = outbound.StartTLS
	case "smtps":
		m.Security, port = outbound.TLS, 465
	case "smtp+clear":
		m.Security, port = outbound.Clear, 25
	default:
		return refuse("--smtp: a mail server is not reached by %s://: write smtp://, smtps:// or smtp+clear://", u.Scheme)
	}
	m.Port = port
	if u.Port() != "" {
		if m.Port, err = strconv.Atoi(u.Port()); err != nil {
			return refuse("--smtp: %s is no port", u.Port())
		}
	}
	o.mail = m
	return nil
}
