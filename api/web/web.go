package web

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"html/template"
	"io/fs"
	"log/slog"
	"net/http"
	"strconv"
	"strings"

	"wetdown/api"
	"wetdown/calendar"
)

// A Door knows who comes in. The service that the pages belong to keeps it.
type Door interface {
	// Who is the person who asks; an Actor without a name when nobody has logged in.
	Who(r *http.Request) api.Actor
	// Enter logs a person in, and sets what the browser keeps.
	Enter(w http.ResponseWriter, r *http.Request, login, password string) error
	// Renew changes the password of the person who asks, and keeps them logged in.
	Renew(w http.ResponseWriter, r *http.Request, before, after string) error
	// Leave logs the person out.
	Leave(w http.ResponseWriter, r *http.Request)
	// Address is that under which people reach the service, without a slash at its end.
	Address(r *http.Request) string
}

// Options of the pages. The zero value is fine.
type Options struct {
	Log *slog.Logger // nil: nothing is logged
}

// A Web answers for all pages.
type Web struct {
	app  *api.App
	door Door
	o    Options
	mux  *http.ServeMux
	set  map[string]*template.Template // by name of the page
}

//go:embed page
var pages embed.FS

// style is the style of all pages. It comes within each page, so that one answer is enough
// to paint it: some 6.5 kB more, compressed, and nothing to wait for.
//
//go:embed page/wetdown.css
var style string

// policy is what a page may load and where it may send: nothing but what is the service's
// own. The style is known by its sum, so that no other can be slipped in.
var policy = func() string {
	sum := sha256.Sum256([]byte(style))
	return "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'; script-src 'self'; img-src 'self' data:; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
}()

// New returns the pages on an application.
func New(app *api.App, door Door, o Options) *Web {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	w := &Web{app: app, door: door, o: o, mux: http.NewServeMux(), set: parse()}
	files, err := fs.Sub(pages, "page/file")
	if err != nil {
		panic(err) // they are embedded
	}
	w.mux.Handle("GET /file/", http.StripPrefix("/file/", kept(http.FileServerFS(files))))
	for _, p := range pagesOf(w) {
		w.mux.HandleFunc(p.pattern, w.page(p))
	}
	return w
}

// Patterns lists the addresses that are pages, in the form of http.ServeMux.
func (w *Web) Patterns() []string {
	list := []string{"GET /file/"}
	for _, p := range pagesOf(w) {
		list = append(list, p.pattern)
	}
	return list
}

// ServeHTTP answers with the page that is asked for.
func (w *Web) ServeHTTP(rw http.ResponseWriter, r *http.Request) { w.mux.ServeHTTP(rw, r) }

// kept lets browsers keep files for an hour.
func kept(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Cache-Control", "private, max-age=3600")
		h.ServeHTTP(w, r)
	})
}

// A page is one address and what is done there.
type page struct {
	pattern string // of http.ServeMux
	act     string // what it takes, "" for everybody
	do      func(v *view) error
}

// pagesOf is the table of all pages.
func pagesOf(w *Web) []page {
	return append([]page{
		{"GET /{$}", api.ActRead, w.start},
		{"GET /login", "", w.loginPage},
		{"POST /login", "", w.login},
		{"POST /logout", "", w.logout},
		{"GET /floor", api.ActRead, w.floor},
		{"GET /visits", api.ActRead, w.readiness},
		{"GET /visits/{id}", api.ActRead, w.visit},
		{"POST /visits/{id}/booking", api.ActBook, w.book},
		{"GET /calls", api.ActRead, w.calls},
		{"POST /calls", api.ActBook, w.lookDays},
		{"POST /calls/{id}", api.ActBook, w.tick},
		{"GET /jobs/{id}", api.ActRead, w.job},
		{"POST /jobs/{id}/cancel", api.ActRead, w.cancel},
		{"POST /trucks/{id}/offers", api.ActRead, w.askOffers},
		{"GET /slips", api.ActRead, w.slips},
		{"POST /slips", api.ActReport, w.report},
		{"GET /slips/new", api.ActReport, w.newSlip},
		{"POST /slips/{id}/withdraw", api.ActReport, w.withdraw},
		{"GET /proposals", api.ActRead, w.proposals},
		{"POST /proposals", api.ActReport, w.ask},
		{"GET /proposals/{id}", api.ActRead, w.proposal},
		{"POST /proposals/{id}/why", api.ActRead, w.askWhyProposed},
		{"POST /proposals/{id}/accept", api.ActDecide, w.accept},
		{"POST /proposals/{id}/drop", api.ActDecide, w.drop},
		{"POST /repairs", api.ActReport, w.askRepairs},
		{"GET /repairs/{id}", api.ActRead, w.repairs},
		{"POST /repairs/{id}/proposals", api.ActReport, w.proposeWay},
		{"GET /trucks", api.ActRead, w.trucks},
		{"GET /trucks/{id}", api.ActRead, w.truck},
		{"POST /trucks/{id}/line-off", api.ActReport, w.truckLineOff},
		{"POST /trucks/{id}/progress", api.ActReport, w.truckProgress},
		{"GET /trucks/{id}/why", api.ActRead, w.why},
		{"POST /explanations", api.ActRead, w.why},
		{"GET /answers/{id}", api.ActRead, w.answer},
		{"GET /loads", api.ActRead, w.loads},
		{"GET /late", api.ActRead, w.late},
		{"GET /deliveries", api.ActRead, w.deliveries},
		{"GET /worth", api.ActRead, w.worths},
		{"POST /worth", api.ActReport, w.askWorth},
		{"GET /worth/{id}", api.ActRead, w.worth},
		{"GET /on-time", api.ActRead, w.onTime},
		{"GET /history/backtest", api.ActRead, w.backtest},
		{"GET /line", api.ActRead, w.line},
		{"POST /line", api.ActReport, w.tellLine},
		{"GET /progress", api.ActRead, w.progress},
		{"POST /progress", api.ActReport, w.tellProgress},
		{"GET /revisions", api.ActRead, w.revisions},
		{"GET /revisions/{number}", api.ActRead, w.revision},
		{"POST /revisions/{number}/undo", api.ActDecide, w.undo},
		{"GET /quotes", api.ActRead, w.quotes},
		{"POST /quotes", api.ActQuote, w.askQuote},
		{"GET /quotes/new", api.ActQuote, w.newQuote},
		{"GET /quotes/{id}", api.ActRead, w.quote},
		{"POST /quotes/{id}/reservation", api.ActQuote, w.reserve},
		{"POST /trucks/{id}/order", api.ActQuote, w.ordered},
		{"POST /trucks/{id}/release", api.ActQuote, w.release},
	}, w.setupPages()...)
}

// A view is one request for a page, and what its template may ask for.
type view struct {
	*Web
	w   http.ResponseWriter
	r   *http.Request
	ctx context.Context

	Who   api.Actor
	State *api.State // the newest; nil for somebody who may not look, or without a plant
	Title string
	Place string       // where in the navigation
	Said  *api.Problem // why what was asked was not done
	Style locale
	Data  any
}

// page wraps a page with what all have in common.
func (w *Web) page(p page) http.HandlerFunc {
	return func(rw http.ResponseWriter, r *http.Request) {
		h := rw.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		v := &view{Web: w, w: rw, r: r, ctx: r.Context(), Who: w.door.Who(r), Style: localeOf(r.Header.Get("Accept-Language"))}
		if p.act != "" && v.Who.Name == "" {
			to := "/login"
			if r.Method == http.MethodGet {
				to += "?to=" + template.URLQueryEscaper(r.URL.RequestURI())
			}
			http.Redirect(rw, r, to, http.StatusSeeOther)
			return
		}
		if v.Who.May(api.ActRead) {
			v.State, _ = w.app.State(v.ctx, v.Who, 0)
		}
		err := func() error {
			if p.act != "" && !v.Who.May(p.act) {
				return &api.Problem{Kind: api.Forbidden, Title: "This is not yours to do", Detail: "It takes the right to " + strings.ReplaceAll(p.act, "_", " ") + ".", Next: "Ask somebody who has it, or your administrator for the right."}
			}
			if !p.bare() && v.State == nil && v.Who.May(api.ActRead) {
				return api.ErrEmpty
			}
			return p.do(v)
		}()
		if err != nil {
			v.refuse(err)
		}
	}
}

// refuse shows why something was not done.
func (v *view) refuse(err error) {
	v.Said = api.AsProblem(err)
	if v.Said.Kind == api.Broken {
		v.o.Log.Error("page", "path", v.r.Pattern, "error", err)
	}
	v.Title = v.Said.Title
	v.show(statusOf(v.Said.Kind), "problem")
}

func statusOf(k api.Kind) int {
	switch k {
	case api.NotFound:
		return http.StatusNotFound
	case api.Unknown:
		return http.StatusUnauthorized
	case api.Forbidden:
		return http.StatusForbidden
	case api.Busy:
		return http.StatusServiceUnavailable
	case api.Broken:
		return http.StatusInternalServerError
	case api.Invalid:
		return http.StatusUnprocessableEntity
	case api.TooLarge:
		return http.StatusRequestEntityTooLarge
	}
	return http.StatusConflict
}

// show writes a page. It is made in memory first: a page is whole, or it is a fault.
func (v *view) show(status int, name string) {
	var b bytes.Buffer
	if err := v.set[name].ExecuteTemplate(&b, "layout", v); err != nil {
		v.o.Log.Error("template", "page", name, "error", err)
		http.Error(v.w, "Something went wrong in the program. Try once more.", http.StatusInternalServerError)
		return
	}
	h := v.w.Header()
	h.Set("Content-Type", "text/html; charset=utf-8")
	h.Add("Vary", "Accept-Encoding")
	// What is shown once (tokens, secrets) answers a POST, and is never packed: the size of
	// a packed page tells of what is in it.
	if v.r.Method != http.MethodGet || !takesGzip(v.r) {
		v.w.WriteHeader(status)
		v.w.Write(b.Bytes())
		return
	}
	h.Set("Content-Encoding", "gzip")
	v.w.WriteHeader(status)
	z := gzip.NewWriter(v.w)
	z.Write(b.Bytes())
	z.Close()
}

// takesGzip reports whether a browser takes a packed answer (RFC 9110, section 12.5.3).
func takesGzip(r *http.Request) bool {
	for _, line := range r.Header.Values("Accept-Encoding") {
		for _, x := range strings.Split(line, ",") {
			name, q, _ := strings.Cut(strings.TrimSpace(x), ";")
			if strings.EqualFold(strings.TrimSpace(name), "gzip") {
				_, weight, given := strings.Cut(q, "=")
				n, err := strconv.ParseFloat(strings.TrimSpace(weight), 64)
				return !given || err == nil && n > 0
			}
		}
	}
	return false
}

// refused shows a page as the plant is by now, with why what was asked there was not done.
// What went wrong in the program is no such answer.
func (v *view) refused(err error, show func(status int) error) error {
	v.Said = api.AsProblem(err)
	if v.Said.Kind == api.Broken {
		return err
	}
	if v.State, err = v.app.State(v.ctx, v.Who, 0); err != nil {
		return err
	}
	return show(statusOf(v.Said.Kind))
}

// back sends the browser to another page after something was done.
func (v *view) back(to string) error {
	http.Redirect(v.w, v.r, to, http.StatusSeeOther)
	return nil
}

// Date is a day that was sent with a form or an address; calendar.None if there is none.
func (v *view) date(field string) (calendar.Date, error) {
	text := v.r.FormValue(field)
	if text == "" {
		return calendar.None, nil
	}
	d, err := calendar.ParseDate(text)
	if err != nil {
		return calendar.None, &api.Problem{Kind: api.Invalid, Title: "This is no day", Detail: "What was sent as " + field + " is not a day.", Next: "Write it as 2027-05-14."}
	}
	return d, nil
}

// parse reads the templates: each page with the layout and the parts they share.
func parse() map[string]*template.Template {
	shared := template.Must(template.New("").Funcs(functions).ParseFS(pages, "page/layout.html", "page/part.html"))
	set := map[string]*template.Template{}
	names, err := fs.Glob(pages, "page/*.html")
	if err != nil {
		panic(err)
	}
	for _, n := range names {
		name := strings.TrimSuffix(strings.TrimPrefix(n, "page/"), ".html")
		if name != "layout" && name != "part" {
			set[name] = template.Must(template.Must(shared.Clone()).ParseFS(pages, n))
		}
	}
	return set
}
