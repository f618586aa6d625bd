package web

import (
	"net/http"
	"strconv"
	"time"

	"wetdown/api"
	"wetdown/calendar"
)

type trailData struct {
	List  []api.Event
	Next  int64 // before which it goes on; 0: there are no older ones
	First bool
}

const trailShown = 100

func (w *Web) trail(v *view) error {
	before, err := v.whole("before")
	if err != nil {
		return err
	}
	list, err := w.app.Trail(v.ctx, v.Who, before, trailShown+1)
	if err != nil {
		return err
	}
	d := trailData{First: before == 0}
	if len(list) > trailShown {
		list = list[:trailShown]
		d.Next = list[trailShown-1].Seq
	}
	d.List = list
	v.setUp("Trail", d)
	v.show(http.StatusOK, "trail")
	return nil
}

// whole is a number from 0 that was sent with an address, 0 if there is none.
func (v *view) whole(field string) (int64, error) {
	text := v.r.URL.Query().Get(field)
	if text == "" {
		return 0, nil
	}
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n < 0 {
		return 0, &api.Problem{Kind: api.Invalid, Title: "This is no number", Detail: "What was sent as " + field + " is not one.", Next: "Go on with the links of the page."}
	}
	return n, nil
}

// LastDay is the last day before a time, in the zone of the plant.
func (v *view) LastDay(until time.Time) calendar.Date {
	t := until.Add(-time.Second).In(v.midnight(0).Location())
	return calendar.NewDate(t.Year(), t.Month(), t.Day())
}

// UTCDay is the day of a time in UTC.
func (v *view) UTCDay(t time.Time) calendar.Date {
	t = t.UTC()
	return calendar.NewDate(t.Year(), t.Month(), t.Day())
}

// midnight is when a day begins in the zone of the plant.
func (v *view) midnight(d calendar.Date) time.Time {
	zone := time.UTC
	if v.State != nil {
		if z, err := time.LoadLocation(v.State.Plant.Zone); err == nil {
			zone = z
		}
	}
	y, m, day := d.YMD()
	return time.Date(y, m, day, 0, 0, 0, 0, zone)
}
