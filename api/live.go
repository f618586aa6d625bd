package api

import "sync"

// A live board shows what is known of the jobs that this process works on.
type live struct {
	mu  sync.Mutex
	now map[string]*JobProgress
	all *signal
}

func (l *live) get(id string) *JobProgress {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.now[id]
}

func (l *live) set(id string, p *JobProgress) {
	l.mu.Lock()
	if l.now == nil {
		l.now = map[string]*JobProgress{}
	}
	l.now[id] = p
	l.mu.Unlock()
	l.all.send()
}

func (l *live) drop(id string) {
	l.mu.Lock()
	delete(l.now, id)
	l.mu.Unlock()
	l.all.send()
}

// announce tells those who watch jobs that one has changed.
func (a *App) announce(*Job) { a.live.all.send() }

// JobNews returns a channel that is closed when something is new about some job of this
// process. What other processes do is seen only by looking.
func (a *App) JobNews() <-chan struct{} { return a.live.all.next() }
