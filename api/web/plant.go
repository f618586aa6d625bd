package web

import (
	"errors"
	"io"
	"net/http"

	"wetdown/api"
	"wetdown/solver/plant"
)

// maxPlant is how many bytes a plant file may have that a page takes.
const maxPlant = 8 << 20

// faultsShown bounds how many faults of a plant file are told at once.
const faultsShown = 50

// loadPlant brings the first plant in. What is wrong with its file is told with its lines.
func (w *Web) loadPlant(v *view) error {
	if v.State != nil {
		return &api.Problem{Kind: api.Conflict, Title: "There is a plant here already", Detail: "This page brings in the first one.", Next: "Change what there is part by part, or put another plant in its place with PUT to /plant."}
	}
	v.r.Body = http.MaxBytesReader(v.w, v.r.Body, maxPlant+1<<20)
	data, err := v.plantFile()
	if err == nil {
		p, faults := plant.Read("", data)
		if len(faults) == 0 {
			_, err = w.app.Load(v.ctx, v.Who, api.Intent{Expect: api.Expectation{Key: api.Whole}}, p)
			if err == nil {
				return v.back("/setup")
			}
		} else {
			err = &api.Problem{Kind: api.Invalid, Title: "This is no plant yet", Next: "Correct the file where it is said below, and choose it again."}
			v.setupPage(faults)
			return v.again(err, "setup")
		}
	}
	v.setupPage(nil)
	return v.again(err, "setup")
}

func (v *view) plantFile() ([]byte, error) {
	var most *http.MaxBytesError
	switch err := v.r.ParseMultipartForm(maxPlant); {
	case errors.As(err, &most):
		return nil, &api.Problem{Kind: api.TooLarge, Title: "The file is too large", Next: "A plant file has up to 8 MB."}
	case err != nil:
		return nil, unreadable()
	}
	defer v.r.MultipartForm.RemoveAll()
	f, _, err := v.r.FormFile("file")
	if err != nil {
		return nil, &api.Problem{Kind: api.Invalid, Title: "No file was chosen", Next: "Choose the plant file, YAML or JSON."}
	}
	defer f.Close()
	return io.ReadAll(f)
}
