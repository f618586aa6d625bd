package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/netip"
	"strings"
	"sync"
	"time"

	"wetdown/api"
	"wetdown/api/oidc"
	"wetdown/api/outbound"
	"wetdown/api/queue"
	"wetdown/api/rest"
	"wetdown/api/store"
	"wetdown/api/web"
)

// serviceOptions say how a service is put together.
type serviceOptions struct {
	db        string // as in databaseFlag
	listen    string
	solves    int
	publicURL string // without a slash at its end; "": that of the request
	proxies   []netip.Prefix
	hooks     []netip.Prefix // where webhooks may lead beside public addresses
	tls       *tls.Config    // nil: plain HTTP
	inviter   api.Inviter    // without a domain: nobody is invited
	mail      *outbound.MailServer
	provider  *oidc.Config // nil: nobody logs in from outside
	clock     func() time.Time
	log       *slog.Logger
}

// A service is everything that runs while the program serves.
type service struct {
	url    string // under which it can be reached from this machine
	app    *api.App
	db     *store.Store
	jobs   jobQueue
	runner *outbound.Runner
	server *rest.Server
	listen net.Listener
	log    *slog.Logger

	forecasting sync.WaitGroup // the chances of new revisions
	unforecast  context.CancelFunc
}

// A jobQueue is worked off until it is closed.
type jobQueue interface {
	api.Queue
	Close(ctx context.Context) error
}

// lookForRevisions is how often it is looked for what other processes changed.
const lookForRevisions = 5 * time.Second

// grace is how long what is under way may take when the service ends. Questions to the
// planner that take longer are taken up again at the next start.
const grace = 10 * time.Second

// newLog writes what is logged, as text or JSON.
func newLog(to io.Writer, machines bool) *slog.Logger {
	if machines {
		return slog.New(slog.NewJSONHandler(to, nil))
	}
	return slog.New(slog.NewTextHandler(to, nil))
}

// openService opens everything and listens, but answers nobody yet.
func openService(ctx context.Context, o serviceOptions) (v *service, err error) {
	v = &service{log: o.log}
	defer func() {
		if err != nil {
			v.close(ctx)
		}
	}()
	if v.listen, err = (&net.ListenConfig{}).Listen(ctx, "tcp", o.listen); err != nil {
		return v, fmt.Errorf("%s cannot be listened on: %w: name another address with --listen, or end the program that has it", o.listen, err)
	}
	if v.db, err = store.Serve(ctx, o.db); err != nil {
		return v, err
	}
	v.app = api.New(v.db, api.Options{Clock: o.clock, Solves: o.solves, Aside: aside})
	v.app.InviteAs(o.inviter)
	if v.jobs, err = openQueue(ctx, o, v.app); err != nil {
		return v, err
	}
	v.app.Serve(v.jobs)
	var provider rest.Provider
	if o.provider != nil {
		if provider, err = oidc.Open(ctx, *o.provider); err != nil {
			return v, err
		}
	}
	v.server, err = rest.New(v.app, rest.Options{
		Clock: o.clock, Log: o.log, PublicURL: o.publicURL, Proxies: o.proxies, TLS: o.tls, Provider: provider,
		Ready: func(ctx context.Context) error {
			return v.db.View(ctx, func(tx api.Tx) error {
				_, err := tx.Head()
				return err
			})
		},
	})
	if err != nil {
		return v, err
	}
	v.server.Mount(web.New(v.app, v.server, web.Options{Log: o.log}))
	v.runner = outbound.New(v.app, outbound.Options{Clock: o.clock, Seed: uint64(o.clock().UnixNano()), Allow: o.hooks, Mail: o.mail, Log: o.log, Meter: v.server})
	scheme := "http://"
	if o.tls != nil {
		scheme = "https://"
	}
	v.url = scheme + v.listen.Addr().String()
	return v, nil
}

// openQueue opens the queue that fits the database: one SQLite file is one program's.
func openQueue(ctx context.Context, o serviceOptions, app *api.App) (jobQueue, error) {
	with := queue.Options{Workers: o.solves, Log: o.log}
	if strings.HasPrefix(o.db, "postgres://") || strings.HasPrefix(o.db, "postgresql://") {
		return queue.NewShared(ctx, o.db, app, with)
	}
	return queue.NewLocal(ctx, app, with)
}

// serve answers until ctx ends, and then ends everything.
func (v *service) serve(ctx context.Context) error {
	v.runner.Start()
	forecasting, end := context.WithCancel(ctx)
	v.unforecast = end
	v.forecasting.Go(func() {
		v.app.KeepForecasting(forecasting, lookForRevisions, func(err error) { v.log.Error("chances cannot be worked out", "error", err) })
	})
	err := v.server.Serve(ctx, v.listen)
	return errors.Join(err, v.close(ctx))
}

// close ends what was opened, the last first.
func (v *service) close(ctx context.Context) (err error) {
	within, cancel := context.WithTimeout(context.WithoutCancel(ctx), grace)
	defer cancel()
	if v.listen != nil {
		if e := v.listen.Close(); !errors.Is(e, net.ErrClosed) {
			err = e
		}
	}
	if v.unforecast != nil {
		v.unforecast()
		v.forecasting.Wait()
	}
	if v.runner != nil {
		err = errors.Join(err, v.runner.Close(within))
	}
	if v.jobs != nil {
		err = errors.Join(err, v.jobs.Close(within))
	}
	if v.app != nil {
		err = errors.Join(err, v.app.Close())
	}
	if v.db != nil {
		err = errors.Join(err, v.db.Close())
	}
	return err
}
