package plant

import "wetdown/calendar"

// FormatVersion is the value of the file key "wetdown" that this program reads.
const FormatVersion = 1

// A Plant is everything a plant file says: the house and its rules, the trucks
// and visits in it as of one moment, the slips to answer and the current plan.
// It is a plain value; nothing in it is computed.
type Plant struct {
	Format      int             // file format version, FormatVersion
	Name        string          // of the plant, for people
	Zone        string          // IANA zone of the plant, such as "America/Chicago"
	AsOf        calendar.Moment // the moment the file speaks of; nothing new is planned before it
	Horizon     Range           // first and last day that may be planned
	Parts       []Part          // parts of the day, in order; a stage starts at the first working minute of a part
	Calendar    string          // the plant's own calendar: counts working days for readiness and floor
	Calendars   []Calendar
	Departments []Department
	Bays        []Bay
	Crews       []Crew
	Route       []Stage
	Wishes      []Wish
	Line        Line
	Notice      []Notice
	Measures    []Measure // price list
	Prices      Prices
	Buffer      Buffer
	Customers   []Customer
	Trucks      []Truck
	Visits      []Visit
	Slips       []Slip
	Plan        *Plan // the plan in force, nil when the file has none
}

// A Range is a run of whole days. Through is the last day, inclusive, as people
// write it.
type Range struct {
	From    calendar.Date
	Through calendar.Date
	Reason  string // why, where a reason makes sense: blackout, closure
}

// Contains reports whether d lies in the range.
func (r Range) Contains(d calendar.Date) bool { return r.From <= d && d <= r.Through }

// A Part is a named part of the day, from its clock time to the next part's (the
// first part begins at midnight whatever its From). Bays are held for whole
// parts of a day.
type Part struct {
	ID   string         // morning, afternoon, evening
	From calendar.Clock // first minute
}

// A Calendar is a named set of working-time rules; see calendar.Rules.
type Calendar struct {
	ID    string
	Rules calendar.Rules
}

// A Department works by one calendar.
type Department struct {
	ID       string
	Name     string
	Calendar string
}

// A Bay is one named place that holds one truck at a time.
type Bay struct {
	ID          string
	Name        string
	Kinds       []string // what it can be used as: floor, pump_test, test_drive, graphics, make_ready, aerial_pad ...
	MaxLengthFt float64  // 0: no limit
	MaxHeightFt float64  // 0: no limit
	MaxFlowGPM  int      // 0: no limit; the largest rated pump flow it can test
	Needs       []string // features a truck must have, all of them, to stand in it: of a bay for some trucks only, or in one of several halls
	Closures    []Range  // days on which no truck may stand in it
}

// A Crew is a pool of people (or of shared gear) counted by head.
type Crew struct {
	ID       string
	Name     string
	Calendar string
	Size     int          // heads on a working day
	Days     []CrewChange // dated exceptions to Size
}

// A CrewChange sets another head count for a run of days.
type CrewChange struct {
	Range
	Size int
}

// An Estimate is a three-point duration. Planning uses Likely.
type Estimate struct {
	MinMinutes    int
	LikelyMinutes int
	MaxMinutes    int
}

// How the length of a stage is found.
const (
	LengthHours = "hours" // working minutes by work content, of Stage.Hours and Stage.Extra
	LengthVisit = "visit" // the visit's own length in parts of a day
	LengthDrive = "drive" // whole days on the road: customer's miles over Prices.DriveMilesPerDay, rounded up
)

// What a stage may cross while it runs; see Stage.Crosses.
const (
	CrossShift   = "shift"   // a shift's end: the work goes on in the next shift or next day
	CrossWeekend = "weekend" // a Saturday or Sunday on which its department does not work
	CrossClosure = "closure" // a holiday or closure of its department's calendar
)

// A Stage is one step of the route after line-off (or, with Station, on the line).
type Stage struct {
	ID         string
	Name       string
	Department string
	Length     string // LengthHours, LengthVisit or LengthDrive
	Hours      ByContent
	Extra      []Extra  // added per option
	Bay        string   // kind of bay it holds from start to end; "" for none
	Crews      []Need   // heads it needs in every part of the day in which it works
	After      []After  // what must come before it
	StartIn    []string // parts of the day it may start in; empty: any
	Crosses    []string // what it may cross; empty: nothing
	Needs      []string // features a truck must have, all of them, for the stage to apply; see Truck.Features
	Certifies  bool     // its end is a certificate that the readiness buffer counts from
	Visit      string   // kind of visit that this stage is; "" for work of the plant
	Delivers   bool     // its end is the delivery of the truck
	Station    string   // station of the line at which it takes place; "" after line-off
	Lasting    bool     // what it made stays made: it is not repeated when a stage before it is; see Apply
	HoldBefore int      // parts of the day (working, of its department) for which the bay is held before it starts: the line-up
	Mark       string   // how well the default is founded: V seen in a source, M from memory, P common practice no source, D computed
}

// ByContent holds an estimate per work content.
type ByContent struct {
	Light, Medium, Heavy Estimate
}

// An Extra adds minutes to every point of the estimate for trucks with a feature.
type Extra struct {
	Feature string
	Minutes int
}

// A Need is a number of heads of a crew.
type Need struct {
	Crew  string
	Heads int
}

// An After is a predecessor with the waits between its end and the start of the
// stage that follows. Work is counted in working minutes of the follower's
// department, Elapsed in real time, nights and weekends included. A maximum of
// 0 means none. A predecessor that does not apply to a truck is passed through
// to its own predecessors (without its waits). So is one that is done or runs,
// as far as work before it is open or runs: it is repeated.
type After struct {
	Stage             string
	MinWorkMinutes    int
	MaxWorkMinutes    int
	MinElapsedMinutes int
	MaxElapsedMinutes int
}

// A Wish is something a delegation may ask to do inside its visit, which then
// needs a bay and people of its own.
type Wish struct {
	ID         string // drive, pump
	Name       string
	Department string
	Minutes    int
	Bay        string // kind of bay
	Crews      []Need
	Needs      []string // features a truck must have
	Caution    string   // ids of cautions to show beside those of its kind of work, separated by spaces; see Hazards
}

// Buffer holds the plant's readiness rule.
type Buffer struct {
	ReadyWorkDays int // full working days of the plant between the day of the last certificate and the first day of a visit
	NoticeDays    int // a visit is never newly placed, or moved, nearer to AsOf than so many calendar days
	NearDays      int // calendar days from AsOf within which planned work counts as near: moving it disturbs
	WaitCapDays   int // days of waiting per truck that are counted at the most
}

// Prices are the weights inside the tiers; whole numbers.
type Prices struct {
	FrozenPerHead      int // per head of a frozen visit that is broken
	BrokenPerHead      int // per head of any other visit that is held on no day
	MovedPerHead       int // per head of a confirmed visit moved to another day
	MovedPerHeadDay    int // more per head and calendar day of distance, up to MovedDaysCap
	MovedDaysCap       int
	ShortNoticeDays    int // a confirmed visit that stood this near or nearer to AsOf counts ShortNoticeFactor times
	ShortNoticeFactor  int
	DeadlineMissed     int // per truck delivered after its hard deadline
	LateDay            int // per calendar day of delivery after the contract date, times the truck's Weight
	TentativePerHead   int // per head of a tentative visit moved to another day
	WeekdayMissed      int // per visit newly placed off the customer's preferred weekdays
	DisturbedStage     int // per near stage that starts at another time than in the plan before
	WaitDay            int // per calendar day between a visit and the start of delivery
	DriveMilesPerDay   int // planning rate of a drive-away
	DelegationWarnOver int // heads above which a visit draws a warning
}

// A Customer is a fire department that buys trucks.
type Customer struct {
	ID       string
	Name     string
	Town     string
	Calendar string // its own calendar of holidays; "" for none
	Miles    int    // road miles from the plant
}
