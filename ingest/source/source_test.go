package source

import (
	"encoding"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

const wideExample = `name: bay-logger
files: ["bay*.csv"]
delimiter: ";"
decimalChar: ","
encoding: windows-1252
skipRows: 2
headerRowCount: 2
unitRow: 2
missingValues: [-9999, NAN]
zone: Europe/Amsterdam
time: {columns: [Date, Time], format: dd.MM.yyyy HH:mm:ss}
sensor: "bay-{1}"
sensorFrom: {fileName: '^bay(\d+)_'}
columns:
  - {name: PAR, channel: ppfd, unit: umol/m2/s}
  - {position: 5, channel: supply, unit: V}
  - {match: '^F(\d+) PPFD$', sensor: "f{1}", channel: ppfd}
`

func TestLoadFillsDefaults(t *testing.T) {
	d, err := Load([]byte(wideExample), "sources/bay-logger.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if d.Format != Delimited || d.Layout != Wide || d.NameRow != 1 || d.QuoteChar != `"` || d.ShortLines != "reject" {
		t.Errorf("defaults: %+v", d)
	}
	if diff := cmp.Diff([]string{"-9999", "NAN"}, d.MissingValues); diff != "" {
		t.Error(diff)
	}
	if d.Stamp() == nil || !d.Location().Valid() || d.FileNamePattern() == nil || d.Columns[2].Pattern() == nil {
		t.Error("compiled parts are missing")
	}
	if diff := cmp.Diff([]Ref{{Name: "Date"}, {Name: "Time"}}, d.Time.Columns); diff != "" {
		t.Error(diff)
	}
}

func TestMatch(t *testing.T) {
	d := &Description{Files: []string{"Bay*.csv", "x[0-9].dat"}}
	for name, want := range map[string]bool{
		"bay1.csv": true, "inbox/BAY7.CSV": true, `c:\logs\bay2.csv`: true, "bay1.csv.gz": true, "bay1.csv.zip": true,
		"bay1.txt": false, "x3.dat": true, "xx.dat": false, "bay/other.csv": false,
	} {
		if got := d.Match(name); got != want {
			t.Errorf("Match(%q) = %v", name, got)
		}
	}
	if n := len(Matching([]*Description{d, d, {Files: []string{"*.dat"}}}, "x1.dat")); n != 3 {
		t.Errorf("Matching found %d of 3", n)
	}
}

func TestFill(t *testing.T) {
	if got := Fill("bay-{1}/{2}", []string{"bay07_x", "07", " x "}); got != "bay-07/x" {
		t.Error(got)
	}
}

// TestBadDescriptions holds each testdata/*.bad.yaml against the messages in
// its closing comment.
func TestBadDescriptions(t *testing.T) {
	files, err := filepath.Glob("testdata/*.bad.yaml")
	if err != nil || len(files) == 0 {
		t.Fatal("no bad descriptions", err)
	}
	for _, f := range files {
		t.Run(filepath.Base(f), func(t *testing.T) {
			data, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			var want []string
			for line := range strings.Lines(string(data)) {
				if text, ok := strings.CutPrefix(line, "#= "); ok {
					want = append(want, strings.TrimSpace(text))
				}
			}
			_, err = Load(data, filepath.Base(f))
			if err == nil {
				t.Fatal("accepted")
			}
			if diff := cmp.Diff(want, strings.Split(err.Error(), "\n")); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// TestKeysMatchTypes holds the key table against the struct tags.
func TestKeysMatchTypes(t *testing.T) {
	var got, want []string
	for _, k := range Keys() {
		got = append(got, k.Path)
		if k.Meaning == "" {
			t.Errorf("%s has no meaning", k.Path)
		}
	}
	var walk func(reflect.Type, string)
	walk = func(ty reflect.Type, prefix string) {
		for i := range ty.NumField() {
			f := ty.Field(i)
			tag := f.Tag.Get("yaml")
			switch {
			case tag == "":
			case f.Type.Kind() == reflect.Pointer:
				walk(f.Type.Elem(), prefix+tag+".")
			case f.Type.Kind() == reflect.Struct && !reflect.PointerTo(f.Type).Implements(reflect.TypeFor[encoding.TextUnmarshaler]()):
				walk(f.Type, prefix+tag+".")
			case f.Type.Kind() == reflect.Slice && f.Type.Elem().Kind() == reflect.Struct &&
				f.Type.Elem() != reflect.TypeFor[Ref]():
				walk(f.Type.Elem(), prefix+tag+"[].")
			default:
				want = append(want, prefix+tag)
			}
		}
	}
	walk(reflect.TypeFor[Description](), "")
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func FuzzLoad(f *testing.F) {
	f.Add([]byte(wideExample))
	f.Add([]byte("name: x\nfiles: a\nlayout: long\nlong: {value: 3}\ntime: {columns: 1, format: epoch-s}\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		d, err := Load(data, "x.yaml")
		if (d == nil) == (err == nil) {
			t.Fatal("neither or both of description and error")
		}
	})
}

// TestDocExamplesLoad loads the descriptions shown in the package's own text.
func TestDocExamplesLoad(t *testing.T) {
	text, err := os.ReadFile("doc.go")
	if err != nil {
		t.Fatal(err)
	}
	var block strings.Builder
	n := 0
	for line := range strings.Lines(string(text)) {
		if code, ok := strings.CutPrefix(line, "//\t"); ok {
			block.WriteString(code)
			continue
		}
		if block.Len() > 0 {
			n++
			example := block.String()
			if _, err := Load([]byte(example), "doc.go"); err != nil {
				t.Errorf("%v\n%s", err, example)
			}
			block.Reset()
		}
	}
	if n != 3 {
		t.Errorf("%d examples, want 3", n)
	}
}

// TestPlainScalars: values that YAML could take for something else.
func TestPlainScalars(t *testing.T) {
	d, err := Load([]byte("name: x\nfiles: '*'\nzone: +01:00\ndelimiter: tab\nmissingValues: [-9999, -99.90, NAN, ---]\ntime: {columns: [1, Time], format: yyyy-MM-dd HH:mm}\nsensor: 7\ncolumns: [{position: 3, channel: on}]\n"), "x")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{"-9999", "-99.90", "NAN", "---"}, d.MissingValues); diff != "" {
		t.Error(diff)
	}
	if d.Zone != "+01:00" || d.Sensor != "7" || d.Columns[0].Channel != "on" || d.Delimiter != "\t" ||
		d.Time.Columns[0].Position != 1 || d.Time.Columns[1].Name != "Time" {
		t.Errorf("%+v", d)
	}
}
