package rest

import (
	"encoding/json"
	"fmt"
	"mime"
	"net/http"
	"strings"
	"sync"

	"wetdown/api"
	"wetdown/api/wire"
	"wetdown/solver/plant"
)

const yamlType = "application/yaml" // RFC 9512

// getPlant gives the whole plant file of a revision: JSON, or YAML where that is asked
// for.
func getPlant(x *exchange) error {
	n, err := x.number("revision")
	if err != nil {
		return err
	}
	s, err := x.app.State(x.Request().Context(), x.who, n)
	if err != nil {
		return err
	}
	x.Response().Header().Set("Vary", "Accept")
	of := ""
	if x.wants(yamlType) {
		of = asYAML
	}
	if x.tagged(fmt.Sprintf(`"%d%s"`, s.Revision.Number, of)) {
		return x.unchanged()
	}
	if of == asYAML {
		return x.Blob(http.StatusOK, yamlType, plant.Write(s.Plant))
	}
	return x.written(&x.s.plant, s, func() ([]byte, error) { return x.s.pieces.whole(s.Pieces()) })
}

// wants reports whether the asker names a media type.
func (x *exchange) wants(of string) bool {
	for _, part := range strings.Split(x.Request().Header.Get("Accept"), ",") {
		if t, _, err := mime.ParseMediaType(part); err == nil && t == of {
			return true
		}
	}
	return false
}

// putPlant puts a plant file in place of what there is.
func putPlant(x *exchange) error {
	if err := x.isA("application/json", yamlType); err != nil {
		return err
	}
	i, err := x.intent(api.Whole)
	if err != nil {
		return err
	}
	p, faults := plant.Read("", x.body)
	if len(faults) > 0 {
		return faulty(faults)
	}
	s, err := x.app.Load(x.Request().Context(), x.who, i, p)
	if err != nil {
		return err
	}
	return x.changed(s)
}

// A wirePlanInForce is the plan in force with what the judge says of it.
type wirePlanInForce struct {
	Plan     *wire.Plan    `json:"plan"` // null: there is none yet
	Status   plant.Status  `json:"status,omitempty"`
	Tiers    []wire.Tier   `json:"tiers"`
	Check    *wire.Check   `json:"check"`
	Cautions []wire.Hazard `json:"cautions"`
	Revision int64         `json:"revision"` // of the plant
}

func getPlan(x *exchange) error {
	s, err := x.app.State(x.Request().Context(), x.who, 0)
	if err != nil {
		return err
	}
	if x.current(s.Revision.Number) {
		return x.unchanged()
	}
	return x.written(&x.s.plan, s, func() ([]byte, error) { return json.Marshal(toPlanInForce(s)) })
}

func toPlanInForce(s *api.State) wirePlanInForce {
	p := s.Plant
	w := wirePlanInForce{Tiers: []wire.Tier{}, Cautions: []wire.Hazard{}, Revision: s.Revision.Number}
	if p.Plan != nil {
		verdict := wire.ToCheck(s.Verdict())
		w.Plan, w.Status, w.Tiers = wire.ToPlan(p, p.Plan), p.Plan.Status, wire.Each(p.Plan.Tiers, wire.ToTier)
		w.Check, w.Cautions = &verdict, wire.Each(p.Hazards(p.Plan), wire.ToHazard)
	}
	return w
}

// A copied is what was written last: most ask for the newest revision.
type copied struct {
	mu       sync.Mutex
	revision int64
	body     []byte
}

// written answers with JSON that is written once for many who ask for the same revision at
// the same time.
func (x *exchange) written(k *copied, s *api.State, write func() ([]byte, error)) error {
	k.mu.Lock()
	body, err := k.body, error(nil)
	if k.revision != s.Revision.Number {
		if body, err = write(); err == nil {
			k.revision, k.body = s.Revision.Number, body
		}
	}
	k.mu.Unlock()
	if err != nil {
		return err
	}
	return x.JSONBlob(http.StatusOK, body)
}
