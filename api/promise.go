package api

import (
	"context"
	"slices"

	"wetdown/api/sheet"
)

// Promises returns every day that was told ahead for one truck, of its line-off, its visits
// and its delivery, in the order in which they were told: those of the table of history
// that was taken in, then those of the revisions, each also where another was told on the
// same day. What has come is told with the day that was projected last.
func (a *App) Promises(ctx context.Context, who Actor, truck string) (list []sheet.Past, err error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		taken, err := pastIn(tx)
		if err != nil {
			return err
		}
		told, err := query[[]sheet.Past](tx, Query{Kind: KindHistory, State: "told"})
		if err != nil {
			return err
		}
		list = slices.Clone(taken.val)
		for _, e := range told {
			list = append(list, e.val...)
		}
		list = slices.DeleteFunc(list, func(p sheet.Past) bool { return p.Truck != truck })
		return nil
	})
	return list, err
}
