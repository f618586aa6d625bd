package plant

import (
	"encoding/json"
	"maps"
)

// Schema returns the JSON Schema (draft 2020-12) of plant files. It tells what
// can be said of each value alone; what must hold between them only Read knows.
func Schema() []byte {
	s := &schema{}
	s.enter(object())
	plantKeys(s, &Plant{})
	root := s.stack[0]
	root["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	root["title"] = "Wetdown plant file"
	data, err := json.MarshalIndent(root, "", "  ")
	if err != nil {
		panic(err) // maps of text and numbers only
	}
	return append(data, '\n')
}

// A schema is the form that lists keys and what they allow.
type schema struct {
	stack []map[string]any // objects and arrays entered
	short []string         // of the lists entered
}

func object() map[string]any {
	return map[string]any{"type": "object", "additionalProperties": false, "properties": map[string]any{}}
}

func (s *schema) top() map[string]any { return s.stack[len(s.stack)-1] }

func (s *schema) enter(m map[string]any) { s.stack = append(s.stack, m) }

func (s *schema) leave() { s.stack = s.stack[:len(s.stack)-1] }

// add puts a key into the object entered last.
func (s *schema) add(name string, value map[string]any, p presence, doc string) {
	value["description"] = doc
	t := s.top()
	t["properties"].(map[string]any)[name] = value
	if p.need {
		required, _ := t["required"].([]string)
		t["required"] = append(required, name)
	}
}

func (s *schema) put(name string, v scalar, p presence, doc string) {
	value := v.schema()
	if p.or != "" && !p.again {
		value["default"] = p.or
		if k := v.kind(); k == isNumber || k == isHours {
			value["default"] = json.Number(p.or)
		}
	}
	s.add(name, value, p, doc)
}

func (s *schema) estimate(name string, v *Estimate, _ Estimate, doc string) {
	point := asMinutes(&v.LikelyMinutes).schema()
	s.add(name, map[string]any{"anyOf": []any{
		point,
		map[string]any{"type": "array", "items": point, "minItems": 3, "maxItems": 3},
	}}, free, doc)
}

func (s *schema) open(name string, _ bool, p presence, doc string) bool {
	value := object()
	s.add(name, value, p, doc)
	s.enter(value)
	return true
}

func (s *schema) close() {
	value := s.top()
	s.leave()
	list := s.top()
	if list["type"] != "array" {
		return
	}
	list["items"] = value
	if short := s.short[len(s.short)-1]; short != "" {
		alone := maps.Clone(value["properties"].(map[string]any)[short].(map[string]any))
		list["items"] = map[string]any{"anyOf": []any{alone, value}}
	}
}

func (s *schema) openList(name, short string, _ int, p presence, doc string) int {
	value := map[string]any{"type": "array"}
	if p.need {
		value["minItems"] = 1
	}
	s.add(name, value, p, doc)
	s.enter(value)
	s.short = append(s.short, short)
	return 1
}

func (s *schema) openItem(int) { s.enter(object()) }

func (s *schema) element(_ int, v scalar) {
	s.top()["items"] = v.schema()
	s.top()["uniqueItems"] = true
}

func (s *schema) closeList() {
	s.leave()
	s.short = s.short[:len(s.short)-1]
}

func (s *schema) standard(string, bool) bool { return false }
