package main

import (
	"fmt"
	"strings"

	"wetdown/solver/plant"
)

// findTruck finds a truck, or says which there are.
func findTruck(p *plant.Plant, id string) (*plant.Truck, error) {
	if t := p.FindTruck(id); t != nil {
		return t, nil
	}
	return nil, unknown("truck", id, "in the plant file", ids(p.Trucks, func(t *plant.Truck) string { return t.ID }))
}

// ids lists what elements are called.
func ids[T any](list []T, id func(*T) string) []string {
	names := make([]string, len(list))
	for i := range list {
		names[i] = id(&list[i])
	}
	return names
}

// unknown says that there is no such thing, which is nearest, and which there are.
func unknown(kind, id, where string, names []string) error {
	const most = 8
	text := fmt.Sprintf("there is no %s %q %s", kind, id, where)
	if near := plant.Nearest(id, names); near != "" {
		return refuse("%s: did you mean %s?", text, near)
	}
	switch {
	case len(names) == 0:
		return refuse("%s, which names none", text)
	case len(names) > most:
		return refuse("%s: it names %s and %d more", text, strings.Join(names[:most], ", "), len(names)-most)
	}
	return refuse("%s: it names %s", text, listed(names))
}
