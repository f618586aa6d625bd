package calendar

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/rickar/cal/v2"
)

// The library works out dates at midnight of a default location, the machine's
// unless told otherwise. A date must not depend on the machine.
func init() { cal.DefaultLoc = time.UTC }

// A HolidaySet picks holidays: those of a named set, such as us-federal, with
// some added and some dropped. HolidaySets lists the sets, HolidayNames the
// names that can be added to or dropped from one.
type HolidaySet struct {
	Set  string
	Add  []string
	Drop []string
}

// A Holiday is one holiday of one year.
type Holiday struct {
	Name   string // as in HolidayNames
	Title  string // for people
	Day    Date   // the day it is observed
	Actual Date   // the day it is; other than Day when that is a Saturday or Sunday and the rule moves it
}

// HolidaySets lists, sorted, the sets that can be named.
func HolidaySets() []string {
	names := make([]string, len(holidaySets))
	for i, s := range holidaySets {
		names[i] = s.name
	}
	return names
}

// HolidayNames lists the holidays that can be added to or dropped from the set,
// in the order of the year: those of its country, whether in the set or not. An
// unknown set is an error.
func HolidayNames(set string) ([]string, error) {
	s, err := findHolidaySet(set)
	if err != nil {
		return nil, err
	}
	names := make([]string, len(s.country))
	for i, h := range s.country {
		names[i] = h.name
	}
	return names, nil
}

// Dates returns the holidays of the set that fall, or are observed, on the days
// from through through, in the order of the days they are observed. Names that
// are not known, added though already there or dropped though not there are
// errors.
func (s HolidaySet) Dates(from, through Date) ([]Holiday, error) {
	named, err := s.named()
	if err != nil {
		return nil, err
	}
	firstYear, _, _ := from.YMD()
	lastYear, _, _ := through.YMD()
	var dates []Holiday
	// New Year's Day on a Saturday may be observed in the year before; no holiday is
	// observed in the year after.
	for year := firstYear; year <= lastYear+1; year++ {
		for _, n := range named {
			actual, observed := n.rule.Calc(year)
			if actual.IsZero() { // not a holiday in that year
				continue
			}
			h := Holiday{Name: n.name, Title: n.rule.Name, Day: dateOf(observed), Actual: dateOf(actual)}
			if from <= h.Day && h.Day <= through || from <= h.Actual && h.Actual <= through {
				dates = append(dates, h)
			}
		}
	}
	slices.SortStableFunc(dates, func(a, b Holiday) int { return int(a.Day) - int(b.Day) })
	return dates, nil
}

// named returns the holidays picked, in the order of the year.
func (s HolidaySet) named() ([]namedHoliday, error) {
	set, err := findHolidaySet(s.Set)
	if err != nil {
		return nil, err
	}
	picked := slices.Clone(set.names)
	known := func(name string) error {
		if slices.ContainsFunc(set.country, func(h namedHoliday) bool { return h.name == name }) {
			return nil
		}
		all, _ := HolidayNames(s.Set)
		return fmt.Errorf("%q is no holiday that %s knows: write one of %s, or a closure with its date", name, s.Set, strings.Join(all, ", "))
	}
	for _, name := range s.Drop {
		if err := known(name); err != nil {
			return nil, err
		}
		i := slices.Index(picked, name)
		if i < 0 {
			return nil, fmt.Errorf("%q cannot be dropped: it is not in %s, or dropped twice; leave it out", name, s.Set)
		}
		picked = slices.Delete(picked, i, i+1)
	}
	for _, name := range s.Add {
		if err := known(name); err != nil {
			return nil, err
		}
		if slices.Contains(picked, name) {
			return nil, fmt.Errorf("%q need not be added: it is in %s, or added twice; leave it out", name, s.Set)
		}
		picked = append(picked, name)
	}
	var named []namedHoliday
	for _, h := range set.country {
		if slices.Contains(picked, h.name) {
			named = append(named, h)
		}
	}
	return named, nil
}

func findHolidaySet(name string) (holidaySet, error) {
	i := slices.IndexFunc(holidaySets, func(s holidaySet) bool { return s.name == name })
	if i < 0 {
		return holidaySet{}, fmt.Errorf("%q is no set of holidays: write one of %s", name, strings.Join(HolidaySets(), ", "))
	}
	return holidaySets[i], nil
}

func dateOf(t time.Time) Date { return NewDate(t.Date()) }
