package plant

import (
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// A plant that no file was read for has faults with fields and without lines.
func TestValidate_WithoutFile(t *testing.T) {
	p := readSmall(t)
	if faults := Validate(p); len(faults) > 0 {
		t.Fatal(faults)
	}
	p.Trucks[1].Contract.Weight = 0
	p.Visits[2].Truck = "J-2049"
	faults := Validate(p)
	var got []string
	for _, f := range faults {
		if f.Line != 0 || f.File != "" {
			t.Errorf("%+v", f)
		}
		got = append(got, f.String())
	}
	want := []string{
		"trucks[J-2042].contract.weight: 0 is too small. Allowed: a whole number from 1 to 1000000. Next: correct the number.",
		`visits[V-3].truck: there is no truck "J-2049". Allowed: J-2041, J-2042, 2043, J-2044. Next: write J-2041 if that is meant.`,
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

// Rules that look at one value expect nonsense in all others.
func TestValidate_AnyPlant(t *testing.T) {
	for seed := range uint64(300) {
		p := anyPlant(seed)
		if faults := Validate(p); len(faults) == 0 {
			t.Errorf("seed %d: a plant of nonsense is right", seed)
		}
	}
}

// One value of a sound plant changed at random: what the rules say of the plant
// is what they say of its file, and a plant in which they find nothing is read
// back as it was.
func TestValidate_AgreesWithRead(t *testing.T) {
	sound := 0
	for seed := range uint64(1000) {
		r := rand.New(rand.NewPCG(seed, 1))
		p := readSmall(t)
		var places []reflect.Value
		var names []string
		leaves(reflect.ValueOf(p).Elem(), "Plant", func(v reflect.Value, name string) {
			places, names = append(places, v), append(names, name)
		})
		i := r.IntN(len(places))
		fillAny(r, places[i], names[i])
		if p.Format != FormatVersion {
			continue
		}
		faults := Validate(p)
		text := Write(p)
		again, read := Read("changed", text)
		if (len(faults) == 0) != (len(read) == 0) {
			t.Errorf("seed %d: %s: the rules find %v, the reader %v", seed, names[i], faults, read)
		}
		if len(faults) > 0 {
			continue
		}
		sound++
		Warnings(p, "changed", text)
		if d := cmp.Diff(p, again); d != "" {
			t.Errorf("seed %d: %s: %s", seed, names[i], d)
		}
	}
	if sound < 150 {
		t.Errorf("only %d of the changes left the plant sound", sound)
	}
}

// leaves calls f for every value that is no struct.
func leaves(v reflect.Value, name string, f func(reflect.Value, string)) {
	switch v.Kind() {
	case reflect.Pointer:
		leaves(v.Elem(), name, f)
	case reflect.Struct:
		for i := range v.NumField() {
			leaves(v.Field(i), v.Type().Name()+"."+v.Type().Field(i).Name, f)
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			leaves(v.Index(i), name, f)
		}
	default:
		f(v, name)
	}
}

func TestNearest(t *testing.T) {
	for _, c := range []struct{ word, of, want string }{
		{"areial", "aerial foam", "aerial"}, // two letters swapped
		{"contnet", "content contract", "content"},
		{"tuesday", "mon tue", "tue"},
		{"paper", "papers delivery", "papers"},
		{"J-2024", "J-2041 J-2042", "J-2042"},
		{"Plant", "plant city", "plant"},
		{"x", "y z", ""},
		{"paint", "floor graphics", ""},
		{"", "a b", ""},
	} {
		if got := Nearest(c.word, strings.Fields(c.of)); got != c.want {
			t.Errorf("%q of %s: %q, want %q", c.word, c.of, got, c.want)
		}
	}
}

// Hours and minutes both ways; the figures are arithmetic.
func TestHoursAsWritten(t *testing.T) {
	for text, minutes := range map[string]int{"8": 480, "5.7": 342, "5.65": 339, "0.05": 3, "1.5": 90, "5h40": 340, "0h01": 1, "-2": -120, "-1h10": -70, "72": 4320} {
		var m int
		v := asHours(&m, -maxMinutes, maxMinutes)
		if w := v.parse(text); !w.ok() || m != minutes {
			t.Errorf("%s is %d minutes, want %d (%v)", text, m, minutes, w)
		}
		if got := formatHours(minutes); got != text {
			t.Errorf("%d minutes are written %s, want %s", minutes, got, text)
		}
	}
	for m := -3000; m <= 3000; m++ {
		var again int
		if w := asHours(&again, -maxMinutes, maxMinutes).parse(formatHours(m)); !w.ok() || again != m {
			t.Fatalf("%d minutes, written %s, are read as %d", m, formatHours(m), again)
		}
	}
	for _, text := range []string{"5.67", "0.01", "1h60", "1:30", "1,5", "h30", "1e2", "+1", "999999", "1h5", " 1", "0.0000001"} {
		var m int
		if w := asHours(&m, 0, maxMinutes).parse(text); w.ok() {
			t.Errorf("%q is read as %d minutes", text, m)
		}
	}
}
