package strictyaml

import (
	"reflect"
	"strings"
	"testing"
)

type room struct {
	Hours    float64 `yaml:"hours"`
	Daylight bool    `yaml:"daylight"`
}

type config struct {
	Name   string          `yaml:"name"`
	Count  int             `yaml:"count"`
	North  *float64        `yaml:"north"`
	Rooms  map[string]room `yaml:"rooms"`
	Order  []string        `yaml:"order"`
	Hidden string          `yaml:"-"`
}

// Everything that can be set is set beside what can't, and what the file does not
// name keeps its value.
func TestDecodeSetsWhatItCan(t *testing.T) {
	into := config{Name: "before", Count: 3, Hidden: "kept",
		Rooms: map[string]room{"veg": {Hours: 18, Daylight: true}, "dry": {Hours: 1}}}
	doc, found := Decode("site.yaml", []byte("count: 7\nnorth: 52.1\nrooms:\n  veg: {hours: 16}\n  bloom:\n    hours: 12\norder: [veg, bloom]\nname:\n"), &into)
	north := 52.1
	want := config{Name: "before", Count: 7, North: &north, Hidden: "kept", Order: []string{"veg", "bloom"},
		Rooms: map[string]room{"veg": {Hours: 16, Daylight: true}, "bloom": {Hours: 12}, "dry": {Hours: 1}}}
	if len(found) > 0 || !reflect.DeepEqual(into, want) {
		t.Errorf("%+v\n%v", into, found)
	}
	if !doc.Parsed() || !doc.Has("rooms.veg.hours") || doc.Has("rooms.veg.daylight") {
		t.Error("the paths that the file names are not known")
	}
	for path, line := range map[string]int{"rooms.bloom.hours": 6, "rooms.bloom.daylight": 5, "order[1]": 7,
		"nowhere": 0} {
		if p := doc.At(path, "is wrong", "mend it"); p.Line != line || p.What != path+": is wrong" {
			t.Errorf("%s: %+v, want line %d", path, p, line)
		}
	}
}

// Every mistake is listed with its place, in one reading.
func TestDecodeListsEveryMistake(t *testing.T) {
	var into config
	_, found := Decode("site.yaml", []byte(strings.Join([]string{
		"nam: a", "count: many", "rooms:", "  veg: {hours: [1], dailight: true}", "  veg: {hours: 2}", "order: veg",
		"hidden: x", "count: 2", "Hidden: y"}, "\n")), &into)
	want := []struct {
		line int
		what string
		do   string
	}{
		{1, "nam: unknown key", `did you mean "name"?`},
		{2, "count: ", ""},
		{4, "rooms.veg.hours: ", ""},
		{4, "rooms.veg.dailight: unknown key", `did you mean "daylight"?`},
		{5, "rooms.veg: key stands twice", "keep one of the two"},
		{7, "hidden: unknown key", "take it out; known here: name, count, north, rooms, order"},
		{8, "count: key stands twice", "keep one of the two"},
		{9, "Hidden: unknown key", "take it out; known here: name, count, north, rooms, order"},
	}
	if len(found) != len(want) {
		t.Fatalf("%d mistakes, want %d:\n%v", len(found), len(want), found)
	}
	if !reflect.DeepEqual(into.Order, []string{"veg"}) {
		t.Errorf("one value where several may stand: %q", into.Order)
	}
	for i, w := range want {
		p := found[i]
		if p.File != "site.yaml" || p.Line != w.line || !strings.HasPrefix(p.What, w.what) || w.do != "" && p.Do != w.do ||
			p.Do == "" {
			t.Errorf("mistake %d is %+v, want line %d %q %q", i+1, p, w.line, w.what, w.do)
		}
	}
}

func TestDecodeWhatIsNoSuchFile(t *testing.T) {
	for text, want := range map[string]string{
		"a: b: c":            "",
		"name: a\n---\nb: 1": "a second document starts here",
		"- a":                "a list stands where keys are expected",
	} {
		var into config
		_, found := Decode("x.yaml", []byte(text), &into)
		if len(found) != 1 || !strings.Contains(found[0].What, want) || found[0].Line == 0 || found[0].Do == "" {
			t.Errorf("%q: %v", text, found)
		}
	}
	for _, text := range []string{"", "# words\n", "---\n"} {
		var into config
		if _, found := Decode("x.yaml", []byte(text), &into); len(found) > 0 || !reflect.DeepEqual(into, config{}) {
			t.Errorf("%q: %v", text, found)
		}
	}
}
