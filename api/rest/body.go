package rest

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"reflect"
	"strings"
	"time"
	"unicode/utf8"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// Most bytes that are taken in one request.
const (
	maxJSON  = 1 << 20
	maxFile  = 10 << 20
	maxPlant = 8 << 20 // what a plant file may have
)

// read takes the body in, before anything is done with it.
func (x *exchange) read() error {
	r := x.Request()
	limit := x.route.takes
	if r.ContentLength > limit && limit > 0 {
		return &http.MaxBytesError{Limit: limit}
	}
	data, err := io.ReadAll(http.MaxBytesReader(x.Response(), r.Body, max(limit, 1)))
	if err != nil {
		var large *http.MaxBytesError
		if errors.As(err, &large) && limit > 0 {
			return err
		}
		if limit == 0 {
			return unreadable("Nothing is to be sent with this request.", "Send it without a body.")
		}
		return refusal{http.StatusBadRequest, unread()}
	}
	if limit == 0 && len(data) > 0 {
		return unreadable("Nothing is to be sent with this request.", "Send it without a body.")
	}
	// All is read. What is done with it may take longer than the reading might have.
	if err := http.NewResponseController(x.Response()).SetReadDeadline(time.Time{}); err != nil && !errors.Is(err, http.ErrNotSupported) {
		return err
	}
	x.body = data
	return nil
}

// json reads the body, one JSON object, into v, a pointer to a struct. Keys that v does
// not have, and anything after the object, are refused.
func (x *exchange) json(v any) error {
	if err := x.isJSON(); err != nil {
		return err
	}
	d := json.NewDecoder(bytes.NewReader(x.body))
	d.DisallowUnknownFields()
	err := d.Decode(v)
	var typed *json.UnmarshalTypeError
	var syntax *json.SyntaxError
	switch {
	case errors.As(err, &syntax), errors.Is(err, io.ErrUnexpectedEOF):
		return unreadable("The body is no JSON: "+strings.TrimPrefix(err.Error(), "json: ")+".", "Send one JSON object.")
	case errors.Is(err, io.EOF):
		return unreadable("The body is empty.", "Send one JSON object.")
	case errors.As(err, &typed):
		return invalid(typed.Field, fmt.Sprintf("%q cannot be a %s.", typed.Field, typed.Value), "See /openapi.json for what it can be.")
	case err != nil && strings.HasPrefix(err.Error(), "json: unknown field "):
		name := strings.Trim(strings.TrimPrefix(err.Error(), "json: unknown field "), `"`)
		next := "Leave it out; /openapi.json lists what there is."
		if n := plant.Nearest(name, fieldsOf(reflect.TypeOf(v).Elem())); n != "" {
			next = fmt.Sprintf("Did you mean %s?", n)
		}
		return invalid(name, fmt.Sprintf("There is no field %q.", name), next)
	case err != nil:
		return invalid("", strings.TrimPrefix(err.Error(), "json: ")+".", "See /openapi.json for what can be sent.")
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return unreadable("Something follows the JSON object.", "Send one JSON object and nothing after it.")
	}
	return nil
}

func fieldsOf(t reflect.Type) (names []string) {
	for i := range t.NumField() {
		name, _, _ := strings.Cut(t.Field(i).Tag.Get("json"), ",")
		if name != "" {
			names = append(names, name)
		}
	}
	return names
}

// isJSON looks whether the body says that it is JSON, and is text.
func (x *exchange) isJSON() error {
	return x.isA("application/json")
}

// isA looks whether the body is of one of the media types.
func (x *exchange) isA(types ...string) error {
	of, _, err := mime.ParseMediaType(x.Request().Header.Get("Content-Type"))
	for _, t := range types {
		if err == nil && of == t {
			if strings.HasPrefix(t, "application/vnd") {
				return nil
			}
			if !utf8.Valid(x.body) {
				return unreadable("The body is not UTF-8.", "Send it as UTF-8.")
			}
			return nil
		}
	}
	return mediaType(types)
}

// aDay reads a day, "" as none.
func aDay(field, text string) (calendar.Date, error) {
	if text == "" {
		return calendar.None, nil
	}
	d, err := calendar.ParseDate(text)
	if err != nil {
		return d, invalid(field, fmt.Sprintf("%.40q is no day.", text), "Write it as YYYY-MM-DD.")
	}
	return d, nil
}

// aMoment reads a moment, "" as none.
func aMoment(field, text string) (calendar.Moment, error) {
	if text == "" {
		return calendar.NoMoment, nil
	}
	m, err := calendar.ParseMoment(text)
	if err != nil {
		return m, invalid(field, fmt.Sprintf("%.40q is no moment.", text), "Write it as YYYY-MM-DDTHH:MM, by the plant's clock.")
	}
	return m, nil
}
