package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"time"

	"golang.org/x/term"

	"wetdown/solver"
	"wetdown/solver/plant"
)

// Progress is shown for what takes longer than patience, and renewed every beat.
const (
	patience = time.Second
	beat     = 200 * time.Millisecond
)

// A watch shows one line of progress on a terminal, and nothing elsewhere.
type watch struct {
	clock func() time.Time
	begin time.Time
	out   io.Writer
	width int
	quit  chan struct{}
	gone  sync.WaitGroup

	mu    sync.Mutex
	state string
	shown bool
}

// watch begins to show progress if standard error is a terminal.
func (s *session) watch(what string) *watch {
	w := &watch{clock: s.clock, state: what, quit: make(chan struct{})}
	f, ok := s.stderr.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return w
	}
	w.out, w.begin, w.width = f, s.clock(), 80
	if columns, _, err := term.GetSize(int(f.Fd())); err == nil && columns > 20 {
		w.width = columns
	}
	w.gone.Add(1)
	go w.tick()
	return w
}

func (w *watch) tick() {
	defer w.gone.Done()
	t := time.NewTicker(beat)
	defer t.Stop()
	for {
		select {
		case <-w.quit:
			if w.shown {
				fmt.Fprintf(w.out, "\r%s\r", strings.Repeat(" ", w.width-1))
			}
			return
		case <-t.C:
			elapsed := w.clock().Sub(w.begin)
			if elapsed < patience {
				continue
			}
			w.mu.Lock()
			line := fmt.Sprintf("%6.1f s  %s", elapsed.Seconds(), w.state)
			w.mu.Unlock()
			line = line[:min(len(line), w.width-1)]
			fmt.Fprintf(w.out, "\r%-*s", w.width-1, line)
			w.shown = true
		}
	}
}

// stop takes the line away. It must be called once.
func (w *watch) stop() {
	close(w.quit)
	w.gone.Wait()
}

// set changes what is shown.
func (w *watch) set(state string) {
	w.mu.Lock()
	w.state = state
	w.mu.Unlock()
}

// report shows how far a planning is.
func (w *watch) report(p solver.Progress) {
	if p.Tier < 0 || p.Tier >= len(p.Tiers) {
		return
	}
	t := p.Tiers[p.Tier]
	w.set(fmt.Sprintf("proving %s (%d of %d): best %s, at least %s", t.Name, p.Tier+1, len(p.Tiers), thousands(t.Value), thousands(t.Bound)))
}

// seek shows how far a search for ways out is.
func (w *watch) seek(p *plant.Plant, k solver.Seeking) {
	what := "trying no measure"
	switch n := len(k.Trying); {
	case n == 0:
	case k.Part:
		what = fmt.Sprintf("do any of %s help?", count(n, "measure"))
	default:
		what = "trying " + solver.SayAction(p, k.Trying[0])
		if n > 1 {
			what += fmt.Sprintf(" and %d more", n-1)
		}
	}
	w.set(fmt.Sprintf("ways out: %d found, %d proven, %s asked: %s", k.Found, k.Proven, thousands(int64(k.Asked)), what))
}

// options are those of a planning that w watches.
func (s *session) options(w *watch) solver.Options {
	return solver.Options{Clock: s.clock, Report: w.report}
}

// stopwatch returns a function that tells the seconds since now.
func (s *session) stopwatch() func() float64 {
	begin := s.clock()
	return func() float64 { return s.clock().Sub(begin).Seconds() }
}
