package rest

import (
	"cmp"
	"context"
	"crypto/tls"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"sync"
	"sync/atomic"
	"time"

	"github.com/labstack/echo/v4"

	"wetdown/api"
)

// Options of a Server. Clock must be set.
type Options struct {
	Clock func() time.Time
	Log   *slog.Logger // nil: nothing is logged
	// Ready looks whether the database answers; nil: it is not looked at.
	Ready func(context.Context) error
	// PublicURL is the address under which people reach the service, such as
	// https://plant.example; "": that of the request.
	PublicURL string
	// Proxies are those whose word on who asks (X-Forwarded-For) and how
	// (X-Forwarded-Proto) is taken.
	Proxies []netip.Prefix
	TLS     *tls.Config   // nil: plain HTTP
	Grace   time.Duration // how long requests under way may take when the server stops; 0: 25 s
	Rate    Rate          // of each client

	Provider Provider // nil: nobody logs in from outside
}

// A Server serves an application over HTTP.
type Server struct {
	app       *api.App
	o         Options
	echo      *echo.Echo
	routes    []route
	paths     map[string]bool // of routes, in the words of the framework
	cross     *http.CrossOriginProtection
	addresses *limiter // requests of each address: several people sit behind it
	accounts  *limiter // and of each account
	meter     *meter

	strangers *limiter     // of what nobody known tries, on the trail
	untold    atomic.Int64 // how much of it is not there

	plant, plan copied // as JSON
	pieces      memo

	pages   *http.ServeMux // nil: there are none
	streams chan struct{}  // a place for each stream of events

	listeners listeners

	stop    sync.Once
	closing chan struct{} // closed when the server stops
}

// How many streams of events there are at the same time, in all and for one account.
const (
	mostStreams     = 500
	mostStreamsEach = 30
)

// New returns a server on an application.
func New(app *api.App, o Options) (*Server, error) {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	o.Grace = cmp.Or(o.Grace, 25*time.Second)
	s := &Server{
		app: app, o: o, echo: echo.New(), cross: http.NewCrossOriginProtection(), addresses: o.Rate.limit(5), accounts: o.Rate.limit(1), strangers: Rate{Burst: 100, PerSecond: 1}.limit(1), meter: newMeter(), paths: map[string]bool{}, listeners: listeners{open: map[string]int{}},
		streams: make(chan struct{}, mostStreams), closing: make(chan struct{}),
	}
	if o.PublicURL != "" {
		if err := s.cross.AddTrustedOrigin(o.PublicURL); err != nil {
			return nil, err
		}
	}
	s.echo.IPExtractor = func(r *http.Request) string { return s.remote(r).String() }
	s.echo.HTTPErrorHandler = func(err error, c echo.Context) { s.fail(c, err) }
	s.echo.Use(s.around)
	s.routes = routes()
	for i := range s.routes {
		r := &s.routes[i]
		do := s.through(r)
		s.paths[echoPath(r.path)] = true
		s.echo.Add(r.method, echoPath(r.path), do)
		if r.method == http.MethodGet && !r.stream {
			s.echo.Add(http.MethodHead, echoPath(r.path), do)
		}
	}
	return s, nil
}

// ServeHTTP answers one request.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.echo.ServeHTTP(w, r) }

// Bounds of time for one request, against clients that are slow on purpose. Streams of
// events are not bound.
const (
	headerTime = 5 * time.Second
	readTime   = 30 * time.Second
	writeTime  = 90 * time.Second
	idleTime   = 2 * time.Minute
	maxHeader  = 32 << 10
)

// Serve answers on l until ctx ends. Then it takes no more requests, ends streams and
// waiting, and lets what is under way come to its end, up to the time of grace.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	h := &http.Server{
		Handler: s, ReadHeaderTimeout: headerTime, ReadTimeout: readTime, WriteTimeout: writeTime, IdleTimeout: idleTime,
		MaxHeaderBytes: maxHeader, TLSConfig: s.o.TLS, ErrorLog: slog.NewLogLogger(s.o.Log.Handler(), slog.LevelDebug),
	}
	ended := make(chan error, 1)
	go func() {
		if s.o.TLS != nil {
			ended <- h.ServeTLS(l, "", "")
		} else {
			ended <- h.Serve(l)
		}
	}()
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	s.stop.Do(func() { close(s.closing) })
	grace, cancel := context.WithTimeout(context.WithoutCancel(ctx), s.o.Grace)
	defer cancel()
	err := h.Shutdown(grace)
	if err != nil {
		err = errors.Join(err, h.Close())
	}
	if e := <-ended; !errors.Is(e, http.ErrServerClosed) {
		err = errors.Join(err, e)
	}
	return err
}
