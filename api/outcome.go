package api

import (
	"cmp"
	"context"
	"slices"

	"wetdown/api/sheet"
	"wetdown/calendar"
	"wetdown/solver/plant"
)

// KindHold is the kind of record of a Hold.
const KindHold = "hold"

// A Hold says which truck a place was held for, and by which quote. It stays when the truck
// is ordered or the place is given up.
type Hold struct {
	Quote    string
	Truck    string
	Revision int64         // in which it began
	On       calendar.Date // today, by the plant of that revision
}

// What can become of a quote.
const (
	QuoteOpen      = "quoted"    // nothing yet
	QuoteHeld      = "held"      // its place is
	QuoteOrdered   = "ordered"   // the truck is on its way
	QuoteDelivered = "delivered" // and has come
	QuoteGivenUp   = "given_up"  // its place was, or its day passed
)

// A QuoteOutcome is what became of a quote.
type QuoteOutcome struct {
	Quote    string
	Seq      int64 // of the quote
	State    string
	Truck    string        // "": none yet
	Quoted   calendar.Date // the earliest delivery that was quoted; calendar.None: none
	P50, P80 calendar.Date // days that were quoted with these chances; calendar.None without odds
	P95      calendar.Date
	Original calendar.Date // of delivery as the plan first had it; calendar.None: not yet
	Latest   calendar.Date // as it has it now, or had it last
	Actual   calendar.Date // calendar.None: still to come
}

// QuoteOutcome returns what became of one quote.
func (a *App) QuoteOutcome(ctx context.Context, who Actor, id string) (*QuoteOutcome, error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	var o *QuoteOutcome
	err := a.store.View(ctx, func(tx Tx) error {
		e, err := fetch[Quote](tx, KindQuote, id)
		if err != nil {
			return err
		}
		list, err := a.outcomes(tx, []entry[Quote]{e})
		if err == nil {
			o = list[0]
		}
		return err
	})
	return o, err
}

// QuoteOutcomes lists what became of quotes, in the order of Quotes.
func (a *App) QuoteOutcomes(ctx context.Context, who Actor, page Page) (list []*QuoteOutcome, err error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		es, err := query[Quote](tx, page.of(Query{Kind: KindQuote}))
		if err != nil {
			return err
		}
		list, err = a.outcomes(tx, es)
		return err
	})
	return list, err
}

// outcomes reads off plant and history what became of quotes.
func (a *App) outcomes(tx Tx, quotes []entry[Quote]) (list []*QuoteOutcome, err error) {
	s, err := a.headIn(tx)
	if err != nil {
		return nil, err
	}
	past, err := a.past(tx, s)
	if err != nil {
		return nil, err
	}
	holds, err := query[Hold](tx, Query{Kind: KindHold})
	if err != nil {
		return nil, err
	}
	newest := map[string]int64{} // by truck: the hold that counts, since a number given up can be given again
	for i := range holds {
		newest[holds[i].val.Truck] = holds[i].rec.Seq
	}
	none := calendar.None
	for i := range quotes {
		q := &quotes[i].val
		o := &QuoteOutcome{Quote: quotes[i].rec.ID, Seq: quotes[i].rec.Seq, State: QuoteOpen, Quoted: q.Result.Delivery, P50: none, P80: none, P95: none, Original: none, Latest: none, Actual: none}
		if q.Odds != nil {
			o.P50, o.P80, o.P95 = q.Odds.Delivery.P50, q.Odds.Delivery.P80, q.Odds.Delivery.P95
		}
		for k := range holds {
			h := &holds[k].val
			if h.Quote != o.Quote {
				continue
			}
			if o.Truck = h.Truck; newest[h.Truck] != holds[k].rec.Seq {
				o.State = QuoteGivenUp
				continue
			}
			o.become(h, s.Plant, past.list)
		}
		list = append(list, o)
	}
	return list, nil
}

// become reads off what has become of the truck of a quote.
func (o *QuoteOutcome) become(hold *Hold, p *plant.Plant, past []sheet.Past) {
	var told []sheet.Past
	for _, h := range past {
		if h.Truck == o.Truck && h.Said >= hold.On && h.Event == sheet.EventDelivery {
			told = append(told, h)
		}
	}
	slices.SortStableFunc(told, func(x, y sheet.Past) int { return cmp.Compare(x.Said, y.Said) })
	if n := len(told); n > 0 {
		o.Original, o.Latest, o.Actual = told[0].Projected, told[n-1].Projected, told[n-1].Actual
	}
	switch t := p.FindTruck(o.Truck); {
	case o.Actual != calendar.None:
		o.State = QuoteDelivered
	case t == nil:
		o.State = QuoteGivenUp
	case t.Reserved.For != "":
		o.State = QuoteHeld
	default:
		o.State = QuoteOrdered
	}
}
