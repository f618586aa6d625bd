package rest

import (
	"strconv"
	"time"

	"github.com/labstack/echo/v4"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"wetdown/api"
)

// A meter counts what the service does, in a registry of its own.
type meter struct {
	registry *prometheus.Registry
	requests *prometheus.CounterVec
	seconds  *prometheus.HistogramVec
	open     prometheus.Gauge
	streams  prometheus.Gauge
	revision prometheus.Gauge
	sent     *prometheus.CounterVec
}

func newMeter() *meter {
	m := &meter{
		registry: prometheus.NewRegistry(),
		requests: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "wetdown_requests_total", Help: "Requests answered."}, []string{"method", "route", "status"}),
		seconds:  prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: "wetdown_request_seconds", Help: "Time to answer a request.", Buckets: []float64{.005, .02, .1, .5, 2, 10, 30}}, []string{"route"}),
		open:     prometheus.NewGauge(prometheus.GaugeOpts{Name: "wetdown_requests_open", Help: "Requests under way, streams among them."}),
		streams:  prometheus.NewGauge(prometheus.GaugeOpts{Name: "wetdown_streams_open", Help: "Streams of events."}),
		revision: prometheus.NewGauge(prometheus.GaugeOpts{Name: "wetdown_revision", Help: "Newest revision of the plant that was seen."}),
	}
	m.sent = prometheus.NewCounterVec(prometheus.CounterOpts{Name: "wetdown_sent_total", Help: "Tries to send something out of the house."}, []string{"what", "outcome"})
	m.registry.MustRegister(m.sent, m.requests, m.seconds, m.open, m.streams, m.revision, collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return m
}

// methods are those that are counted by name: anybody can send others.
var methods = map[string]bool{"GET": true, "HEAD": true, "POST": true, "PUT": true, "PATCH": true, "DELETE": true, "OPTIONS": true}

func (m *meter) done(method, route string, status int, took time.Duration) {
	if !methods[method] {
		method = "other"
	}
	m.requests.WithLabelValues(method, route, strconv.Itoa(status)).Inc()
	m.seconds.WithLabelValues(route).Observe(took.Seconds())
}

// Sent counts what is sent out of the house, and what came of it.
func (s *Server) Sent(what, outcome string) { s.meter.sent.WithLabelValues(what, outcome).Inc() }

// getMetrics gives the counters to a program that collects them.
func getMetrics(x *exchange) error {
	if s, err := x.app.State(x.Request().Context(), api.Service, 0); err == nil {
		x.s.meter.revision.Set(float64(s.Revision.Number))
	}
	return echo.WrapHandler(promhttp.HandlerFor(x.s.meter.registry, promhttp.HandlerOpts{}))(x.Context)
}
