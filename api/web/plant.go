package web

import (
	"bytes"
	"compress/gzip"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"net/http"
	"path/filepath"
	"strconv"
	"strings"

	"wetdown/api"
	"wetdown/solver/plant"
)

// maxPlant is how many bytes a plant file may have that a page takes.
const maxPlant = 8 << 20

// faultsShown bounds how many faults of a plant file are told at once.
const faultsShown = 50

// plantData is the plant as a file, and what putting another in its place would do.
type plantData struct {
	outcome
	Name   string // of the file
	Kept   string // the file, as it goes along with the form that saves it
	Sums   []plantSum
	Other  string // another name that the file gives the plant, "" for none
	Plan   int    // plan in force that would be gone, 0 for none
	Why    string
	Faults []plant.Fault
	Rest   int // faults that are not told
	Warns  []plant.Fault
	Most   int // megabytes
}

// A plantSum counts what a file would change of one noun.
type plantSum struct {
	Name                 string
	Added, Changed, Gone int
}

// plantPage shows the plant as a file.
func (v *view) plantPage(d plantData) {
	d.Most = maxPlant >> 20
	v.setUp("The plant as a file", d)
}

// plant shows where the plant file comes from, and how another is put in its place.
func (w *Web) plant(v *view) error {
	if v.State == nil {
		return api.ErrEmpty
	}
	v.plantPage(plantData{})
	v.show(http.StatusOK, "plant")
	return nil
}

// givePlant gives the plant file of the newest revision, or of the one that is asked for.
func (w *Web) givePlant(v *view) error {
	s := v.State
	if text := v.r.FormValue("revision"); text != "" {
		n, err := strconv.ParseInt(text, 10, 64)
		if err != nil || n < 1 {
			return noRevision()
		}
		if s, err = w.app.State(v.ctx, v.Who, n); err != nil {
			return err
		}
	}
	if s == nil {
		return api.ErrEmpty
	}
	h := v.w.Header()
	h.Set("Content-Type", "application/yaml") // RFC 9512
	h.Set("Content-Disposition", fmt.Sprintf(`attachment; filename="plant-%d.yaml"`, s.Revision.Number))
	_, err := v.w.Write(plant.Write(s.Plant))
	return err
}

// loadPlant brings the first plant in, or shows what putting a file in the place of the
// plant would change, and saves it when that was seen. What is wrong with a file is told
// with its lines.
func (w *Web) loadPlant(v *view) error {
	v.r.Body = http.MaxBytesReader(v.w, v.r.Body, maxPlant+1<<20)
	name, data, err := v.plantFile()
	if err != nil {
		return v.noPlant(nil, err)
	}
	p, faults := plant.Read("", data)
	if len(faults) > 0 {
		return v.noPlant(faults, &api.Problem{Kind: api.Invalid, Title: "This is no plant yet", Next: "Correct the file where it is said below, and choose it again."})
	}
	if v.State == nil {
		if _, err := w.app.Load(v.ctx, v.Who, api.Intent{Expect: api.Expectation{Key: api.Whole}}, p); err != nil {
			return v.noPlant(nil, err)
		}
		return v.back("/setup")
	}
	d := plantData{Name: name, Why: v.r.PostFormValue("why"), Warns: plant.Warnings(p, "", data)}
	status := http.StatusOK
	if seen, err := strconv.ParseInt(v.r.PostFormValue("seen"), 10, 64); err == nil && seen > 0 {
		s, err := w.app.Load(v.ctx, v.Who, api.Intent{Why: d.Why, Expect: api.Expectation{Key: api.Whole, Revision: seen}}, p)
		if err == nil {
			return v.back("/revisions/" + strconv.FormatInt(s.Revision.Number, 10))
		}
		if v.Said = api.AsProblem(err); v.Said.Kind == api.Broken {
			return err
		}
		status = statusOf(v.Said.Kind)
		if v.State, err = w.app.State(v.ctx, v.Who, 0); err != nil {
			return err
		}
	}
	look, err := w.app.LookLoad(v.ctx, v.Who, p)
	if err != nil {
		return v.noPlant(nil, err)
	}
	d.outcome, d.Sums = v.outcomeOf(look), v.sumsOf(look.Changes)
	if p.Name != v.State.Plant.Name {
		d.Other = p.Name
	}
	if p.Plan == nil && v.State.Plant.Plan != nil {
		d.Plan = v.State.Plant.Plan.Revision
	}
	if d.Kept, err = packed(data); err != nil {
		return err
	}
	v.plantPage(d)
	v.Title = "What " + name + " would change"
	v.show(status, "plant")
	return nil
}

// noPlant shows why a file was not taken, on the page from which it came.
func (v *view) noPlant(faults []plant.Fault, err error) error {
	if v.State == nil {
		v.setupPage(faults)
		return v.again(err, "setup")
	}
	told := faults[:min(faultsShown, len(faults))]
	v.plantPage(plantData{Faults: told, Rest: len(faults) - len(told)})
	return v.again(err, "plant")
}

// sumsOf counts changes by noun, in the order in which the plant is set up.
func (v *view) sumsOf(list []plant.PieceChange) (sums []plantSum) {
	at := map[string]int{}
	for _, c := range list {
		if v.pieceOf(c).Name == "" {
			continue
		}
		noun, _, _ := strings.Cut(c.Key, "/")
		i, ok := at[noun]
		if !ok {
			name := strings.ToUpper(noun[:1]) + plainWord(noun[1:])
			for _, n := range nounPages {
				if n.Noun == noun {
					name = n.Name
				}
			}
			if noun == "plan" {
				name = "Rows of the plan"
			}
			i = len(sums)
			at[noun], sums = i, append(sums, plantSum{Name: name})
		}
		switch {
		case c.Before == "":
			sums[i].Added++
		case c.After == "":
			sums[i].Gone++
		default:
			sums[i].Changed++
		}
	}
	return sums
}

// packed makes a file small enough to go along with a form.
func packed(data []byte) (string, error) {
	var b bytes.Buffer
	z, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err != nil {
		return "", err
	}
	if _, err := z.Write(data); err != nil {
		return "", err
	}
	if err := z.Close(); err != nil {
		return "", err
	}
	return base64.StdEncoding.EncodeToString(b.Bytes()), nil
}

// unpacked is what was packed, up to maxPlant bytes.
func unpacked(kept string) ([]byte, error) {
	lost := &api.Problem{Kind: api.Invalid, Title: "The file did not come back whole", Next: "Choose it once more."}
	text, err := base64.StdEncoding.DecodeString(kept)
	if err != nil {
		return nil, lost
	}
	z, err := gzip.NewReader(bytes.NewReader(text))
	if err != nil {
		return nil, lost
	}
	data, err := io.ReadAll(io.LimitReader(z, maxPlant+1))
	if err != nil {
		return nil, lost
	}
	return data, nil
}

// plantFile reads a form with a plant file: one that was chosen, or the one that went along.
func (v *view) plantFile() (name string, data []byte, err error) {
	large := &api.Problem{Kind: api.TooLarge, Title: "The file is too large", Next: fmt.Sprintf("A plant file has up to %d MB.", maxPlant>>20)}
	var most *http.MaxBytesError
	switch err := v.r.ParseMultipartForm(maxPlant); {
	case errors.As(err, &most):
		return "", nil, large
	case err != nil:
		return "", nil, unreadable()
	}
	defer v.r.MultipartForm.RemoveAll()
	if kept := v.r.PostFormValue("kept"); kept != "" {
		name = v.r.PostFormValue("name")
		data, err = unpacked(kept)
	} else {
		f, h, fault := v.r.FormFile("file")
		if fault != nil {
			return "", nil, &api.Problem{Kind: api.Invalid, Title: "No file was chosen", Next: "Choose the plant file, YAML or JSON."}
		}
		defer f.Close()
		name = filepath.Base(h.Filename)
		data, err = io.ReadAll(f)
	}
	if err == nil && len(data) > maxPlant {
		err = large
	}
	return name, data, err
}
