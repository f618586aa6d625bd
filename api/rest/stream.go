package rest

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"wetdown/api"
)

// A stream sends events (server-sent events, WHATWG HTML 9.2) until whoever listens goes,
// is logged out, or the server stops.
type stream struct {
	x       *exchange
	control *http.ResponseController
	look    *time.Ticker
	heard   time.Time // when something was sent last
	known   time.Time // when it was last looked whether they may still listen
}

// How often a stream that has nothing to say says so, and looks whether whoever listens
// still may.
const (
	streamBeat  = 15 * time.Second
	streamWrite = 10 * time.Second // time to send one event
)

// listen begins a stream. done gives its place back.
func (x *exchange) listen() (st *stream, done func(), err error) {
	if !x.s.listeners.enter(x.who.Name) {
		return nil, nil, &api.Problem{Kind: api.Busy, Title: "You listen often already", Detail: fmt.Sprintf("%d streams of events are open for you.", mostStreamsEach), Next: "Close those that nobody looks at any more.", Wait: 30 * time.Second}
	}
	select {
	case x.s.streams <- struct{}{}:
	default:
		x.s.listeners.leave(x.who.Name)
		return nil, nil, &api.Problem{Kind: api.Busy, Title: "Too many listen already", Detail: fmt.Sprintf("%d streams of events are open.", mostStreams), Next: "Look at the thing itself now and then, or try again later.", Wait: 30 * time.Second}
	}
	x.s.meter.streams.Inc()
	st = &stream{x: x, control: http.NewResponseController(x.Response()), look: time.NewTicker(lookAgain), heard: x.s.o.Clock(), known: x.s.o.Clock()}
	h := x.Response().Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-store")
	h.Set("X-Accel-Buffering", "no")
	x.Response().WriteHeader(http.StatusOK)
	return st, func() {
		st.look.Stop()
		x.s.meter.streams.Dec()
		<-x.s.streams
		x.s.listeners.leave(x.who.Name)
	}, st.write("retry: 3000\n\n")
}

// listeners counts the streams of each account, so that nobody takes them all.
type listeners struct {
	mu   sync.Mutex
	open map[string]int
}

func (l *listeners) enter(name string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.open[name] >= mostStreamsEach {
		return false
	}
	l.open[name]++
	return true
}

func (l *listeners) leave(name string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.open[name]--; l.open[name] == 0 {
		delete(l.open, name)
	}
}

// send sends one event.
func (st *stream) send(id, event string, v any) error {
	body, err := json.Marshal(v)
	if err != nil {
		return err
	}
	var b strings.Builder
	if id != "" {
		b.WriteString("id: " + id + "\n")
	}
	b.WriteString("event: " + event + "\ndata: ")
	b.Write(body)
	b.WriteString("\n\n")
	return st.write(b.String())
}

func (st *stream) write(text string) error {
	// A connection that takes no deadline (in tests) takes what it is sent.
	_ = st.control.SetWriteDeadline(time.Now().Add(streamWrite))
	if _, err := st.x.Response().Write([]byte(text)); err != nil {
		return err
	}
	st.heard = st.x.s.o.Clock()
	return st.control.Flush()
}

// wait waits for news; false when the stream is to end.
func (st *stream) wait(news <-chan struct{}) bool {
	select {
	case <-st.x.Request().Context().Done():
		return false
	case <-st.x.s.closing:
		return false
	case <-news:
	case <-st.look.C:
	}
	now := st.x.s.o.Clock()
	if now.Sub(st.known) >= streamBeat {
		st.known = now
		if err := st.x.identify(); err != nil || !st.x.who.May(api.ActRead) {
			return false
		}
	}
	if now.Sub(st.heard) >= streamBeat {
		return st.write(": still here\n\n") == nil
	}
	return true
}

// streamJob tells how a job goes: its progress, whenever there is some, and at the end
// the job itself.
func streamJob(x *exchange) error {
	ctx, id := x.Request().Context(), x.Param("id")
	if _, err := x.app.Job(ctx, x.who, id); err != nil {
		return err
	}
	st, done, err := x.listen()
	if err != nil {
		return err
	}
	defer done()
	var told []byte
	for {
		news := x.app.JobNews()
		j, err := x.app.Job(ctx, x.who, id)
		if err != nil {
			return nil // the answer has begun: it can only end
		}
		if j.Finished() {
			w, err := x.whole(j)
			if err == nil {
				_ = st.send("", "done", w)
			}
			return nil
		}
		w := struct {
			State    string           `json:"state"`
			Progress *wireJobProgress `json:"progress"`
		}{j.State, toJobProgress(j.Progress)}
		now, err := json.Marshal(w)
		if err != nil {
			return nil
		}
		if !bytes.Equal(now, told) {
			if st.send("", "progress", w) != nil {
				return nil
			}
			told = now
		}
		if !st.wait(news) {
			return nil
		}
	}
}

// streamRevisions tells of new revisions. With Last-Event-ID, the number of a revision, it
// goes on after that one; without, it begins with those to come.
func streamRevisions(x *exchange) error {
	ctx := x.Request().Context()
	var last int64
	text := x.Request().Header.Get("Last-Event-ID")
	if text != "" {
		var err error
		if last, err = strconv.ParseInt(text, 10, 64); err != nil || last < 0 {
			return invalid("Last-Event-ID", fmt.Sprintf("%.40q is no number of a revision.", text), "Send the id of the last event, or nothing.")
		}
	} else {
		newest, err := x.app.Revisions(ctx, x.who, 0, 1)
		if err != nil {
			return err
		}
		if len(newest) > 0 {
			last = newest[0].Number
		}
	}
	st, done, err := x.listen()
	if err != nil {
		return err
	}
	defer done()
	for {
		news := x.app.Changed()
		list, err := x.since(last)
		if err != nil {
			return nil
		}
		for _, r := range list {
			if st.send(strconv.FormatInt(r.Number, 10), "revision", toRevision(r)) != nil {
				return nil
			}
			last = r.Number
		}
		if !st.wait(news) {
			return nil
		}
	}
}

// mostMissed is how many revisions a stream tells of at once.
const mostMissed = 1000

// since lists the revisions after one, the oldest first, the first mostMissed of them.
func (x *exchange) since(last int64) ([]api.Revision, error) {
	ctx := x.Request().Context()
	newest, err := x.app.Revisions(ctx, x.who, 0, 1)
	if err != nil || len(newest) == 0 || newest[0].Number <= last {
		return nil, err
	}
	to := min(newest[0].Number, last+mostMissed)
	list, err := x.app.Revisions(ctx, x.who, to+1, int(to-last))
	slices.Reverse(list)
	return list, err
}
