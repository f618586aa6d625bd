package generate

import (
	"math/rand/v2"
	"slices"
)

// Towns are made of two halves that belong to no place we know of.
var (
	townStarts = []string{
		"Ardel", "Brindle", "Celder", "Corvin", "Cresk", "Drossel", "Dunvel", "Fennick", "Gaffen", "Gorsel",
		"Halder", "Ister", "Jorrel", "Kestan", "Larrow", "Lumen", "Merrin", "Morrow", "Nescot", "Ombre",
		"Orrin", "Ostra", "Pellan", "Quill", "Rusken", "Sabel", "Skarrel", "Tamber", "Tolver", "Umber",
		"Varnel", "Vesper", "Wexel", "Yarrel", "Yonder", "Zephan",
	}
	townEnds = []string{
		"cairn", "fell", "fen", "garth", "hollow", "holt", "march", "mere", "reach", "rill", "sedge", "stead", "strand", "wick",
	}
	departmentForms = []string{
		"%s Fire Department", "%s Fire Department", "%s Fire District", "%s Volunteer Fire Company",
		"%s Fire and Rescue", "%s Township Fire Department", "%s County Fire Authority",
	}
)

// towns returns n names of towns in a random order, all different as long as
// there are names enough; then they come again.
func towns(r *rand.Rand, n int) []string {
	var all []string
	for _, a := range townStarts {
		for _, b := range townEnds {
			all = append(all, a+b)
		}
	}
	r.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	list := slices.Clone(all[:min(n, len(all))])
	for len(list) < n {
		list = append(list, all[len(list)%len(all)])
	}
	return list
}
