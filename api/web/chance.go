package web

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver/forecast"
)

// patience is how long a page waits for chances that are still being worked out.
const patience = 4 * time.Second

// hundred writes a share of runs as so many in 100.
func hundred(share float64) string {
	switch n := forecast.InHundred(share); {
	case n >= 100:
		return "over 99 in 100"
	case n <= 0:
		return "under 1 in 100"
	default:
		return fmt.Sprintf("%d in 100", n)
	}
}

// between writes the interval of a chance.
func between(c forecast.Chance) string {
	return fmt.Sprintf("%.0f to %.0f in 100", math.Round(100*c.Low), math.Round(100*c.High))
}

// chanceWord is a chance in a word: from forecast.SafeShare on it is safe.
func chanceWord(share float64) string {
	switch {
	case share >= forecast.SafeShare:
		return "safe"
	case share >= 0.5:
		return "at risk"
	}
	return "unlikely"
}

// thousands writes a number with commas.
func thousands(n any) string { return strings.Replace(dollars(n), "$", "", 1) }

// barOf is the length of a bar for a share of a width.
func barOf(share float64, width int) int {
	return int(math.Round(max(0, min(1, share)) * float64(width)))
}

// tenth writes a number with one digit after its point.
func tenth(x float64) string {
	if x > 0 && x < 0.05 {
		return "less than 0.1"
	}
	return strconv.FormatFloat(x, 'f', 1, 64)
}

// gain writes days that are gained, or lost if negative.
func gain(days float64) string {
	if days < 0 {
		return tenth(-days) + " days later"
	}
	return tenth(days) + " days"
}

// A sample is what a chance on a page rests on.
type sample struct {
	Runs        int // 0: there is no chance, and Without says why
	Seed        uint64
	Revision    int64 // of the plant
	Old         int   // revisions that came since
	Assumptions []string
	Without     string // with what to do
}

func (v *view) sampleOf(b *forecast.Basis, revision int64) sample {
	return sample{Runs: b.Runs, Seed: b.Seed, Revision: revision, Old: int(v.State.Revision.Number - revision), Assumptions: b.Assumptions}
}

// withoutChances says why a page has no chances, in the words of the problem.
func withoutChances(err error) sample {
	p := api.AsProblem(err)
	switch {
	case p.Kind == api.Busy, p.Kind == api.Broken:
		return sample{Without: "The chances are still being worked out. Load the page again in a moment."}
	case p.Detail == "":
		return sample{Without: p.Title + ". " + p.Next}
	}
	return sample{Without: p.Title + ": " + p.Detail + " " + p.Next}
}

// wait bounds how long a page waits for chances.
func (v *view) wait() (context.Context, context.CancelFunc) {
	return context.WithTimeout(v.ctx, patience)
}

// failed puts on the log what kept chances from being worked out, unless it was time alone
// or the plant.
func (v *view) failed(ctx context.Context, err error) {
	if ctx.Err() == nil && api.AsProblem(err).Kind == api.Broken {
		v.o.Log.Error("chances", "path", v.r.Pattern, "error", err)
	}
}

// odds are the chances of the plant, as they were worked out last.
type odds struct {
	Sample     sample
	Deliveries []forecast.DeliveryOdds
	visits     map[string]*forecast.VisitOdds
	calls      map[string]string // open about a visit that is not safe any more
}

// Of are the chances of a visit, nil without any.
func (o *odds) Of(visit string) *forecast.VisitOdds { return o.visits[visit] }

// odds returns the chances that are there, if need be those of an older revision.
func (v *view) odds() *odds {
	o := &odds{visits: map[string]*forecast.VisitOdds{}, calls: map[string]string{}}
	ctx, done := v.wait()
	defer done()
	r, err := v.app.Readiness(ctx, v.Who, false)
	if err != nil {
		v.failed(ctx, err)
		o.Sample = withoutChances(err)
		return o
	}
	o.Sample = v.sampleOf(&r.Odds.Basis, r.Revision)
	o.Deliveries = r.Odds.Deliveries
	for i := range r.Odds.Visits {
		o.visits[r.Odds.Visits[i].Visit] = &r.Odds.Visits[i]
	}
	for _, u := range r.Unsafe {
		o.calls[u.Visit] = u.Call
	}
	return o
}

// A curve is a chance over days or over another chance, in the units of its SVG.
type curve struct {
	Width, Height int
	Left, Bottom  int // where the axes meet
	Path          string
	Even          string // a second line, without dots
	Foot          string // what the axis along the foot counts, if not days
	Levels        []level
	Days          []mark
	Lines         []mark
	Dots          []dot
}

// A level is a height of the drawing with its name.
type level struct {
	Y    int
	Text string
}

// A dot is a point that is known, with the ends of its interval if it has one.
type dot struct {
	X, Y      int
	Low, High int
	Text      string
}

const (
	curveWidth  = 640
	curveHeight = 220
	curveLeft   = 86
	curveTop    = 34
	curveFoot   = 24
)

// newCurve is an empty drawing with heights for some shares.
func newCurve(shares ...float64) *curve {
	c := &curve{Width: curveWidth, Height: curveHeight, Left: curveLeft, Bottom: curveHeight - curveFoot}
	for _, s := range shares {
		c.Levels = append(c.Levels, level{c.y(s), strconv.Itoa(int(math.Round(100*s))) + " in 100"})
	}
	return c
}

func (c *curve) y(share float64) int {
	return c.Bottom - int(math.Round(share*float64(c.Bottom-curveTop)))
}

// A stair is the chance of a day and of those after it, up to the next stair.
type stair struct {
	day   calendar.Date
	share float64
}

// stairs draws a chance that holds from each day on, nil without any. Milestones outside
// of the days drawn are left out.
func (v *view) stairs(list []stair, lines []milestone) *curve {
	if len(list) == 0 {
		return nil
	}
	c := newCurve(0, 0.5, 0.8, 1)
	x := c.days(v, list[0].day, list[len(list)-1].day+1, lines)
	path := &strings.Builder{}
	fmt.Fprintf(path, "M%d %d", x(list[0].day), c.y(list[0].share))
	for _, s := range list[1:] {
		fmt.Fprintf(path, "H%dV%d", x(s.day), c.y(s.share))
	}
	fmt.Fprintf(path, "H%d", x(list[len(list)-1].day+1))
	c.Path = path.String()
	return c
}

// days draws the days from first to last and the milestones among them, and says where a
// day is.
func (c *curve) days(v *view, first, last calendar.Date, lines []milestone) func(calendar.Date) int {
	last = max(last, first+1)
	x := func(d calendar.Date) int {
		return c.Left + (c.Width-c.Left-8)*int(d-first)/int(last-first)
	}
	each := 1 + (int(last-first)*weekText)/(7*(c.Width-c.Left)) // Mondays from one that is named to the next
	n := 0
	for day := first; day <= last; day++ {
		if day.Weekday() != 1 {
			continue
		}
		if n%each == 0 && x(day) < c.Width-weekText {
			c.Days = append(c.Days, mark{X: x(day), Text: v.Style.Short(day)})
		}
		n++
	}
	for _, l := range lines {
		if first <= l.day && l.day <= last {
			c.Lines = append(c.Lines, mark{X: x(l.day), Y: 12 + 12*(len(c.Lines)%2), Text: l.text, Kind: l.kind, Left: x(l.day) > c.Width*2/3})
		}
	}
	return x
}
