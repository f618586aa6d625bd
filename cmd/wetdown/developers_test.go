package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"wetdown/solver/check"
	"wetdown/solver/plant"
)

// pageOf reads a page of the top level.
func pageOf(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(root, name))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// section is what stands under a heading, up to the next one of the same or a
// higher level.
func section(t *testing.T, text, heading string) string {
	t.Helper()
	_, rest, ok := strings.Cut(text, "\n"+heading+"\n")
	if !ok {
		t.Fatalf("there is no heading %q", heading)
	}
	for level := strings.Count(heading, "#"); level > 1; level-- {
		rest, _, _ = strings.Cut(rest, "\n"+strings.Repeat("#", level)+" ")
	}
	return rest
}

// rows lists the first cells of the tables in a section, without the heads.
func rows(text string) (first []string) {
	for _, line := range strings.Split(text, "\n") {
		if cells := strings.Split(line, "|"); len(cells) > 2 && cells[0] == "" && !strings.HasPrefix(cells[1], "--") {
			first = append(first, strings.Trim(cells[1], " `"))
		}
	}
	if len(first) > 0 {
		first = first[1:]
	}
	return first
}

// TestDevelopers_Tables compares tables of DEVELOPERS.md with what they list, in
// order: every package, every rule, every tier.
func TestDevelopers_Tables(t *testing.T) {
	text := pageOf(t, "DEVELOPERS.md")
	listed := map[string]bool{}
	for _, name := range rows(section(t, text, "## Map")) {
		listed[name] = true
	}
	for _, r := range rooms(t) {
		if !listed[r.name()] {
			t.Errorf("the map in DEVELOPERS.md lacks the package %s", r.name())
		}
		delete(listed, r.name())
	}
	for name := range listed {
		t.Errorf("the map in DEVELOPERS.md lists %s, which is no package", name)
	}
	var rules []string
	for _, r := range check.Rules {
		rules = append(rules, r.Name)
	}
	if got := rows(section(t, text, "### Rules")); fmt.Sprint(got) != fmt.Sprint(rules) {
		t.Errorf("DEVELOPERS.md lists the rules %v, want %v", got, rules)
	}
	if got := rows(section(t, text, "### Score")); fmt.Sprint(got) != fmt.Sprint(plant.TierNames) {
		t.Errorf("DEVELOPERS.md lists the tiers %v, want %v", got, plant.TierNames)
	}
}

// TestReadme_Numbers compares numbers in README.md with the program's.
func TestReadme_Numbers(t *testing.T) {
	text := strings.Join(strings.Fields(pageOf(t, "README.md")), " ")
	p, b := plant.DefaultPrices(), plant.DefaultBuffer()
	for _, want := range []string{
		fmt.Sprintf("checks each plan against %d rules", len(check.Rules)),
		fmt.Sprintf("the standard route of %d stages", len(plant.DefaultRoute())),
		fmt.Sprintf("| a frozen visit that is broken: %d a head |", p.FrozenPerHead),
		fmt.Sprintf("| another visit that is held on no day: %d a head. A confirmed visit that moves: %d a head and %d a head and calendar day of distance (at most %d days); %d times that if the old day was within %d days |",
			p.BrokenPerHead, p.MovedPerHead, p.MovedPerHeadDay, p.MovedDaysCap, p.ShortNoticeFactor, p.ShortNoticeDays),
		fmt.Sprintf("on which a grant lapses: %d |", p.DeadlineMissed),
		fmt.Sprintf("calendar days late against the contract × the truck's weight × %d |", p.LateDay),
		fmt.Sprintf("| a tentative visit that moves: %d a head. A visit placed or moved off the customer's preferred weekdays: %d |", p.TentativePerHead, p.WeekdayMissed),
		fmt.Sprintf("| work of the next %d days that starts at another time than in the plan before: %d. A day between a final inspection and the start of the drive: %d (at most %d days a truck) |",
			b.NearDays, p.DisturbedStage, p.WaitDay, b.WaitCapDays),
	} {
		if !strings.Contains(text, want) {
			t.Errorf("README.md does not say %q", want)
		}
	}
}
