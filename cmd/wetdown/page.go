package main

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// pageWidth is how many characters a line for people has at the most.
const pageWidth = 100

// A page is an answer for people.
type page struct{ strings.Builder }

// say writes a paragraph, wrapped to the width of the page.
func (p *page) say(format string, args ...any) { p.wrap("", "", fmt.Sprintf(format, args...)) }

// item writes a paragraph that stands out by a dash.
func (p *page) item(format string, args ...any) { p.wrap("- ", "  ", fmt.Sprintf(format, args...)) }

// gap writes an empty line, and a heading if it is not empty.
func (p *page) gap(heading string) {
	p.WriteByte('\n')
	if heading != "" {
		p.WriteString(heading + "\n")
	}
}

// wrap writes text whose first line has one lead and the others another.
func (p *page) wrap(first, other, text string) {
	line, lead := first, first
	for _, word := range strings.Fields(text) {
		if len(line) > len(lead) && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > pageWidth {
			p.WriteString(line + "\n")
			line, lead = other, other
		}
		if len(line) > len(lead) {
			line += " "
		}
		line += word
	}
	p.WriteString(strings.TrimRight(line, " ") + "\n")
}

// A table has a line for each row, with columns aligned.
type table struct {
	heads []string // a head that begins with > is of a column aligned to the right; one that begins with ~ may be cut where the page ends
	rows  [][]string
}

func (t *table) add(cells ...string) { t.rows = append(t.rows, cells) }

// table writes the rows under their heads; nothing if there are none.
func (p *page) table(t *table) {
	if len(t.rows) == 0 {
		return
	}
	heads := make([]string, len(t.heads))
	width := make([]int, len(heads))
	total := 2 * (len(heads) - 1)
	cut := -1
	for c, h := range t.heads {
		heads[c] = strings.TrimLeft(h, ">~")
		if strings.HasPrefix(h, "~") {
			cut = c
		}
		width[c] = utf8.RuneCountInString(heads[c])
		for _, r := range t.rows {
			width[c] = max(width[c], utf8.RuneCountInString(r[c]))
		}
		total += width[c]
	}
	const least = 10 // of a column that is cut
	if over := total - pageWidth; over > 0 && cut >= 0 {
		width[cut] = max(least, width[cut]-over)
	}
	for i := range len(t.rows) + 1 {
		row := heads
		if i > 0 {
			row = t.rows[i-1]
		}
		var line strings.Builder
		for c, cell := range row {
			if c > 0 {
				line.WriteString("  ")
			}
			if n := utf8.RuneCountInString(cell); n > width[c] {
				cell = string([]rune(cell)[:width[c]-1]) + "…"
			}
			blank := strings.Repeat(" ", width[c]-utf8.RuneCountInString(cell))
			if strings.HasPrefix(t.heads[c], ">") {
				line.WriteString(blank + cell)
			} else {
				line.WriteString(cell + blank)
			}
		}
		p.WriteString(strings.TrimRight(line.String(), " ") + "\n")
	}
}
