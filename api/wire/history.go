package wire

import "wetdown/solver/history"

// A Backtest is how well days would have held that were stated from a history. Slips and
// losses are working days.
type Backtest struct {
	AsOf         *string         `json:"as_of"`
	From         *string         `json:"from"`
	Through      *string         `json:"through"`
	HalfLifeDays int             `json:"half_life_days"`
	Projections  int             `json:"projections"`
	Unsaid       int             `json:"unsaid"`
	Trucks       int             `json:"trucks"`
	Scored       int             `json:"scored"`
	StillOpen    int             `json:"still_open"`
	Levels       []Level         `json:"levels"`
	Pinball      Loss            `json:"pinball_mean"`
	CRPS         Loss            `json:"crps"`
	Reliability  []Held          `json:"reliability"`
	Bases        []BacktestBasis `json:"bases"`
	Periods      []Period        `json:"periods"`
	Drifts       []Drift         `json:"drifts"`
	Thin         []Thin          `json:"thin"`
}

// A Held says how often a stated day held.
type Held struct {
	Stated float64  `json:"stated"` // the chance
	Law    *float64 `json:"law"`    // that the law itself gave the day, in the mean; null of none
	Held   *float64 `json:"held"`   // share that held; null of none
	Low    float64  `json:"low"`    // of the interval of 95 %
	High   float64  `json:"high"`
	Days   int      `json:"days"`
	Trucks int      `json:"trucks"`
}

// A Level is how one chance held.
type Level struct {
	Held
	Pinball Loss `json:"pinball"`
}

// A Loss compares stated days with simpler rules.
type Loss struct {
	Ours           float64 `json:"ours"`
	Naive          float64 `json:"naive"`
	Projections    int     `json:"projections"`
	OursOfContract float64 `json:"ours_of_contract"`
	Contract       float64 `json:"contract"`
	OfContract     int     `json:"of_contract"`
}

// A BacktestBasis is how 80 % held by what the answer rested on.
type BacktestBasis struct {
	Basis   history.Basis `json:"basis"`
	Answers int           `json:"answers"`
	Held
}

// A Period is how 80 % held of what was projected in half a year.
type Period struct {
	Period string  `json:"period"`
	Median float64 `json:"median_slip"`
	Held
}

// A Drift compares the earlier half of an event with the later one.
type Drift struct {
	Event       string  `json:"event"`
	From        string  `json:"later_from"`
	Early       int     `json:"earlier_trucks"`
	Late        int     `json:"later_trucks"`
	EarlierMean float64 `json:"earlier_mean"`
	LaterMean   float64 `json:"later_mean"`
	P           float64 `json:"p"`
	Drifts      bool    `json:"drifts"`
}

// A Thin is a class of trucks of which too few are known.
type Thin struct {
	Event   string `json:"event"`
	Kind    string `json:"kind"`
	Content string `json:"content"`
	Trucks  int    `json:"trucks"`
}

// An OnTime counts what came against one of the days that on time is measured against.
type OnTime struct {
	Event   string          `json:"event"`
	By      string          `json:"by"`
	Name    string          `json:"name"`
	Against history.Against `json:"against"`
	Early   int             `json:"early"`
	OnDay   int             `json:"on_day"`
	Late    int             `json:"late"`
	Open    int             `json:"open"`
}

func toHeld(h history.Held) Held {
	w := Held{Stated: h.Stated, Low: Micro(h.Interval.Low), High: Micro(h.Interval.High), Days: int(h.Of), Trucks: h.Trucks}
	if h.Of > 0 {
		law, held := Micro(h.Exact), Micro(h.Share())
		w.Law, w.Held = &law, &held
	}
	return w
}

func toLoss(l history.Loss) Loss {
	return Loss{Micro(l.Ours), Micro(l.Naive), l.Events, Micro(l.OursOfContract), Micro(l.Contract), l.OfContract}
}

// ToBacktest writes what a walk through a history found.
func ToBacktest(r *history.Report) Backtest {
	return Backtest{
		AsOf: Day(r.AsOf), From: Day(r.From), Through: Day(r.Through), HalfLifeDays: r.HalfLifeDays,
		Projections: r.Events, Unsaid: r.Unsaid, Trucks: r.Trucks, Scored: r.Scored, StillOpen: r.StillOpen,
		Levels:      Each(r.Levels, func(l history.Level) Level { return Level{toHeld(l.Held), toLoss(l.Loss)} }),
		Pinball:     toLoss(r.Pinball()),
		CRPS:        toLoss(r.CRPS),
		Reliability: Each(r.Reliability, toHeld),
		Bases: Each(r.Bases, func(b history.BasisHeld) BacktestBasis {
			return BacktestBasis{b.Basis, b.Answered, toHeld(b.Held)}
		}),
		Periods: Each(r.Periods, func(p history.PeriodHeld) Period { return Period{p.Name, p.Median, toHeld(p.Held)} }),
		Drifts: Each(r.Drifts, func(d history.Drift) Drift {
			return Drift{d.What, d.From.String(), d.Early, d.Late, Micro(d.EarlyMean), Micro(d.LateMean), Micro(d.P), d.Drifts}
		}),
		Thin: Each(r.Thin(), func(c history.Class) Thin { return Thin{c.What, c.Kind, c.Content, c.Trucks} }),
	}
}

// ToOnTime writes the counts of groups, one after the other for each day that is measured
// against.
func ToOnTime(groups []history.OnTime) []OnTime {
	list := []OnTime{}
	for _, o := range groups {
		for i, n := range o.Ratios {
			list = append(list, OnTime{o.What, o.By, o.Name, history.Againsts[i], n.Early, n.OnDay, n.Late, n.Open})
		}
	}
	return list
}

// A BacktestWithOnTime is a backtest with what was on time.
type BacktestWithOnTime struct {
	Backtest
	OnTime []OnTime `json:"on_time"`
}
