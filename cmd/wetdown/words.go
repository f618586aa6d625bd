package main

import (
	"fmt"
	"strconv"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// onDay writes a day with its weekday: Wed 2027-03-10.
func onDay(d calendar.Date) string {
	if d == calendar.None {
		return "-"
	}
	return d.Weekday().String()[:3] + " " + d.String()
}

// atTime writes a moment with its weekday: Wed 2027-03-10 07:00.
func atTime(m calendar.Moment) string {
	if m == calendar.NoMoment {
		return "-"
	}
	return onDay(m.Date()) + " " + m.Clock().String()
}

// count writes a number of things: 1 visit, 2 visits.
func count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return thousands(int64(n)) + " " + thing + "s"
}

// people writes the size of a delegation.
func people(n int) string {
	if n == 1 {
		return "1 person"
	}
	return fmt.Sprintf("%d people", n)
}

// thousands writes a number with commas: 12,500.
func thousands(n int64) string {
	s := strconv.FormatInt(n, 10)
	for i := len(s) - 3; i > 0 && s[i-1] != '-'; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// listed writes words as people do: a, b and c.
func listed(words []string) string {
	if n := len(words); n > 1 {
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
	return strings.Join(words, "")
}

// spoken writes a word of a plant file for people: final inspection.
func spoken(word string) string {
	if one, two, _ := strings.Cut(word, "_"); one == "pre" || one == "re" {
		return one + "-" + two
	}
	return strings.ReplaceAll(word, "_", " ")
}

// tierWords says what the tiers count.
var tierWords = map[string]string{
	plant.TierFrozen:    "frozen visits broken, by heads",
	plant.TierConfirmed: "confirmed visits moved, others broken, by heads, distance, notice",
	plant.TierDeadlines: "hard deadlines missed",
	plant.TierDamages:   "liquidated damages, in dollars",
	plant.TierLateness:  "calendar days after contract delivery, weighted",
	plant.TierWishes:    "tentative visits moved and preferred weekdays missed",
	plant.TierCalm:      "near work disturbed, days that finished trucks wait",
}

// proven says in plain words what is proven of a plan.
func proven(status plant.Status, tiers []plant.TierValue) string {
	switch status {
	case plant.Optimal:
		return fmt.Sprintf("Status: optimal. The plan obeys every rule, and no better one exists: proven in all %d tiers.", len(tiers))
	case plant.Feasible:
		return "Status: feasible. The plan obeys every rule. " + unproven(tiers)
	case plant.Infeasible:
		return "Status: infeasible. Proven: no plan obeys every rule."
	}
	return "Status: unknown. Neither a plan nor a proof was found in the time given: give more with --limit, or leave it out."
}

// unproven says up to where a feasible plan is proven.
func unproven(tiers []plant.TierValue) string {
	var best []string
	for _, t := range tiers {
		if t.Value == t.Bound {
			best = append(best, t.Name)
			continue
		}
		text := ""
		if len(best) > 0 {
			text = fmt.Sprintf("Proven best: %s. ", listed(best))
		}
		text += fmt.Sprintf("Not proven: %s is %s", t.Name, thousands(t.Value))
		if t.Bound > 0 {
			text += fmt.Sprintf(" and cannot be below %s", thousands(t.Bound))
			if len(best) > 0 {
				text += " as long as those stay best"
			}
		}
		return text + "; what comes after it is open as well. More time may find a better plan, or prove this one."
	}
	return "Its values are proven tier by tier, but the search was ended before it could say so."
}
