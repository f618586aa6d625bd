package web

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"wetdown/api"
	"wetdown/solver/plant"
)

// An outcome is what a change of the plant would come to, in words.
type outcome struct {
	Look    *api.Look
	Changes []pieceWords
	More    int      // changes that are not told
	Counts  []string // of what
	Worse   []string // rules that the plan in force breaks only after the change
	Still   int      // that it breaks anyway
	Tiers   []fieldWords
}

// outcomeOf puts what a change would come to into words.
func (v *view) outcomeOf(look *api.Look) outcome {
	o := outcome{Look: look}
	o.Changes, o.More, o.Counts = v.piecesOf(look.Changes)
	if look.Before == nil || look.After == nil {
		return o
	}
	for _, b := range look.After.Broken {
		if slices.Contains(look.Before.Broken, b) {
			o.Still++
		} else {
			o.Worse = append(o.Worse, b)
		}
	}
	for i, t := range look.After.Tiers {
		if i < len(look.Before.Tiers) && look.Before.Tiers[i].Value != t.Value {
			o.Tiers = append(o.Tiers, fieldWords{tierWord(t.Name), strconv.FormatInt(look.Before.Tiers[i].Value, 10), strconv.FormatInt(t.Value, 10)})
		}
	}
	return o
}

// changesShown bounds how many pieces are told in full on one page.
const changesShown = 120

// piecesOf tells changes of pieces as far as there is room for them on a page, and counts
// the others.
func (v *view) piecesOf(list []plant.PieceChange) (told []pieceWords, more int, counts []string) {
	of := map[string]int{}
	var nouns []string
	for _, c := range list {
		p := v.pieceOf(c)
		if p.Name == "" {
			continue
		}
		if len(told) < changesShown {
			told = append(told, p)
			continue
		}
		more++
		noun, _, _ := strings.Cut(c.Key, "/")
		if of[noun]++; of[noun] == 1 {
			nouns = append(nouns, noun)
		}
	}
	for _, noun := range nouns {
		counts = append(counts, fmt.Sprintf("%d in %s", of[noun], noun))
	}
	return told, more, counts
}
