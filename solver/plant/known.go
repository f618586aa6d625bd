package plant

import (
	"fmt"
	"slices"
	"strings"
)

// A set is what a reference can name.
type set int

const (
	aCalendar set = iota
	aDepartment
	aBay
	aCrew
	aStage
	aStation
	aWish
	aPart
	aCustomer
	aTruck
	aVisit
	sets // their number
)

var setNames = [sets]string{
	"calendar", "department", "bay", "crew", "stage of the route", "station of the line",
	"wish", "part of the day", "customer", "truck", "visit",
}

// setPlaces says where a file lists the elements of each set.
var setPlaces = [sets]place{
	{key("calendars")}, {key("departments")}, {key("bays")}, {key("crews")}, {key("route")}, {key("line"), key("stations")},
	{key("wishes")}, {key("parts")}, {key("customers")}, {key("trucks")}, {key("visits")},
}

// known holds the ids of a plant, each set in the order of the file.
type known struct {
	ids  [sets][]string
	at   [sets]map[string]int // index of the first element of that id
	torn [sets]bool           // an element has no id: what names it cannot be judged
	told int                  // unknown references found
}

func newKnown(p *Plant) *known {
	k := &known{}
	fill(k, aCalendar, p.Calendars, func(v *Calendar) string { return v.ID })
	fill(k, aDepartment, p.Departments, func(v *Department) string { return v.ID })
	fill(k, aBay, p.Bays, func(v *Bay) string { return v.ID })
	fill(k, aCrew, p.Crews, func(v *Crew) string { return v.ID })
	fill(k, aStage, p.Route, func(v *Stage) string { return v.ID })
	fill(k, aStation, p.Line.Stations, func(v *Station) string { return v.ID })
	fill(k, aWish, p.Wishes, func(v *Wish) string { return v.ID })
	fill(k, aPart, p.Parts, func(v *Part) string { return v.ID })
	fill(k, aCustomer, p.Customers, func(v *Customer) string { return v.ID })
	fill(k, aTruck, p.Trucks, func(v *Truck) string { return v.ID })
	fill(k, aVisit, p.Visits, func(v *Visit) string { return v.ID })
	return k
}

func fill[T any](k *known, s set, list []T, id func(*T) string) {
	k.at[s] = make(map[string]int, len(list))
	for i := range list {
		name := id(&list[i])
		if name == "" {
			k.torn[s] = true
			continue
		}
		if _, again := k.at[s][name]; !again {
			k.at[s][name] = i
			k.ids[s] = append(k.ids[s], name)
		}
	}
}

// has reports whether the id is in the set; also when that cannot be judged.
func (k *known) has(s set, id string) bool {
	_, ok := k.at[s][id]
	return ok || k.torn[s]
}

// check says what is wrong with a reference. An empty one is the business of
// presence.
func (k *known) check(s set, id string) wrong {
	if id == "" || k.has(s, id) {
		return wrong{}
	}
	w := wrong{allowed: oneOf(k.ids[s]), next: "write one of them"}
	if k.told++; k.told < maxFaults { // looking for the nearest takes time
		w = unknownWord(id, k.ids[s])
	}
	w.what = fmt.Sprintf("there is no %s %s", setNames[s], quoted(id))
	if len(k.ids[s]) == 0 {
		w.allowed = "the file names none"
		w.next = fmt.Sprintf("add the %s, or take its name away here", setNames[s])
	}
	return w
}

// unknownWord says that a word is none of those allowed, and which is nearest.
func unknownWord(word string, allowed []string) wrong {
	w := wrong{quoted(word) + " is not known here", oneOf(allowed), "write one of them"}
	if near := Nearest(word, allowed); near != "" {
		w.next = fmt.Sprintf("write %s if that is meant", near)
	}
	return w
}

// oneOf lists words for a sentence, the first twenty of them.
func oneOf(words []string) string {
	const most = 20
	if len(words) > most {
		return fmt.Sprintf("%s and %d more", strings.Join(words[:most], ", "), len(words)-most)
	}
	return strings.Join(words, ", ")
}

// Nearest returns the word that takes the fewest typing errors to become word,
// "" if none is near.
func Nearest(word string, words []string) string {
	if len(word) > 2*maxID {
		return ""
	}
	best, least := "", (len(word)+1)/4+1
	for _, w := range words {
		if len(w) >= 3 && strings.HasPrefix(strings.ToLower(word), w) || len(word) >= 3 && strings.HasPrefix(w, strings.ToLower(word)) {
			return w
		}
		if d := typingErrors(strings.ToLower(word), strings.ToLower(w), least); d < least {
			best, least = w, d
		}
	}
	return best
}

// typingErrors counts the letters put in, left out, changed or swapped with
// their neighbour between a and b; it gives up at limit.
func typingErrors(a, b string, limit int) int {
	s, t := []rune(a), []rune(b)
	if d := len(s) - len(t); d >= limit || -d >= limit {
		return limit
	}
	before, last, row := make([]int, len(t)+1), make([]int, len(t)+1), make([]int, len(t)+1)
	for j := range last {
		last[j] = j
	}
	for i := range s {
		row[0] = i + 1
		for j := range t {
			cost := 1
			if s[i] == t[j] {
				cost = 0
			}
			row[j+1] = min(last[j+1]+1, row[j]+1, last[j]+cost)
			if i > 0 && j > 0 && s[i] == t[j-1] && s[i-1] == t[j] {
				row[j+1] = min(row[j+1], before[j-1]+1)
			}
		}
		if slices.Min(row) >= limit {
			return limit
		}
		before, last, row = last, row, before
	}
	return last[len(t)]
}
