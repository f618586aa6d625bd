package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"

	"go.yaml.in/yaml/v3"

	"wetdown/api/sheet"
	"wetdown/solver"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

type generateCmd struct {
	Trucks int     `required:"" xor:"what" placeholder:"N" help:"Shop orders in the file."`
	Seed   uint64  `required:"" placeholder:"N" help:"Seed of the random numbers: equal options give equal files."`
	Load   float64 `default:"0.9" placeholder:"F" help:"How busy the tightest bays and crews are in the busy weeks; 1 is all of their time."`
	Slip   bool    `help:"With a plan in force, made before the slips, and slips to answer."`

	Halls int `default:"1" placeholder:"N" help:"Halls, each with its own bays and floor positions; people and customers are shared, and each hall is as busy as one plant of its trucks."`

	History int     `required:"" xor:"what" placeholder:"N" help:"In place of a plant: a table of what was projected for so many trucks of the past, and what came of it. CSV, or a workbook if -o ends in .xlsx."`
	Drift   float64 `placeholder:"F" help:"With --history: by how much slips grow in a year; 0.5 is by half."`

	LinedUp bool `help:"Also with trucks that stand lined up since Friday for a visit that begins on the Monday of the file."`
}

// Help says more than one line.
func (*generateCmd) Help() string {
	return `Everybody and everything in the file is invented. With --slip the plan in force is the best that --limit
allows, by default proven best. The file goes to standard output or to -o; with --json it is the same plant
file in JSON.`
}

func (c *generateCmd) run(s *session) (int, error) {
	if c.History != 0 {
		return c.history(s)
	}
	if c.Halls == 0 { // to Options that is one; here somebody wrote it
		return 0, refuse("0 halls cannot be generated: ask for 1 to %d", generate.MaxHalls)
	}
	o := generate.Options{Trucks: c.Trucks, Seed: c.Seed, Load: c.Load, Slips: c.Slip, LinedUp: c.LinedUp, Halls: c.Halls}
	if err := o.Check(); err != nil {
		return 0, refuse("%v", err)
	}
	if err := canWrite(s.Out); err != nil {
		return 0, err
	}
	p := generate.Generate(o)
	if s.AsOf != "" {
		was := p.AsOf
		if err := s.asOf(p); err != nil {
			return 0, err
		}
		if p.AsOf != was {
			return 0, refuse("--as-of %s: generated plants speak of %s; leave the flag out, and give it to the command that reads the file", s.AsOf, was)
		}
	}
	if c.Slip {
		w := s.watch("planning before the slips")
		calm := *p
		calm.Slips = nil
		r, err := solver.Plan(s.ctx, &calm, s.options(w))
		w.stop()
		if err != nil {
			return 0, err
		}
		if r.Plan == nil {
			s.note("%s No file is written.", proven(r.Status, r.Tiers))
			return no, nil
		}
		p.Plan = r.Plan
	}
	data := plant.Write(p)
	if s.JSON {
		var err error
		if data, err = asJSON(data); err != nil {
			return 0, err
		}
	}
	return done, s.put(data, s.Out)
}

// asJSON writes a plant file in JSON, with its keys in the same order.
func asJSON(file []byte) ([]byte, error) {
	var doc yaml.Node
	if err := yaml.Unmarshal(file, &doc); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := writeJSON(&b, doc.Content[0]); err != nil {
		return nil, err
	}
	b.WriteByte('\n')
	return b.Bytes(), nil
}

func writeJSON(b *bytes.Buffer, n *yaml.Node) error {
	switch n.Kind {
	case yaml.MappingNode:
		b.WriteByte('{')
		for i := 0; i < len(n.Content); i += 2 {
			if i > 0 {
				b.WriteByte(',')
			}
			if err := writeText(b, n.Content[i].Value); err != nil {
				return err
			}
			b.WriteByte(':')
			if err := writeJSON(b, n.Content[i+1]); err != nil {
				return err
			}
		}
		b.WriteByte('}')
	case yaml.SequenceNode:
		b.WriteByte('[')
		for i, c := range n.Content {
			if i > 0 {
				b.WriteByte(',')
			}
			if err := writeJSON(b, c); err != nil {
				return err
			}
		}
		b.WriteByte(']')
	case yaml.ScalarNode:
		switch n.Tag {
		case "!!int", "!!float", "!!bool":
			b.WriteString(n.Value)
		default: // days and moments are text in JSON
			return writeText(b, n.Value)
		}
	default:
		return fmt.Errorf("a plant file was written with a node of kind %d", n.Kind)
	}
	return nil
}

func writeText(b *bytes.Buffer, s string) error {
	data, err := json.Marshal(s)
	b.Write(data)
	return err
}

// history writes a table of the past.
func (c *generateCmd) history(s *session) (int, error) {
	o := generate.HistoryOptions{Trucks: c.History, Seed: c.Seed, Drift: c.Drift}
	if err := o.Check(); err != nil {
		return 0, refuse("%v", err)
	}
	if c.Slip || c.Halls != 1 || s.JSON || s.AsOf != "" {
		return 0, refuse("--history takes none of --slip, --halls, --json and --as-of: leave them out; the table is CSV, or a workbook if -o ends in .xlsx")
	}
	format := sheet.CSV
	if strings.HasSuffix(strings.ToLower(s.Out), ".xlsx") {
		format = sheet.XLSX
	}
	events, _ := generate.History(o)
	data, err := sheet.WriteHistory(format, pastsOf(events))
	if err != nil {
		return 0, err
	}
	return done, s.put(data, s.Out)
}
