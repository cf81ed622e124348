package blank

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wane/ingest/register"
	"wane/transform/fleet"
)

// written makes the folder and gives its register files, as they are and with
// the examples' # taken out.
func written(t *testing.T) (dir string, as, shown map[string][]byte) {
	dir = filepath.Join(t.TempDir(), "site")
	if err := Write(dir, "House", "Europe/Amsterdam"); err != nil {
		t.Fatal(err)
	}
	as, shown = map[string][]byte{}, map[string][]byte{}
	for _, name := range []string{"fixtures", "sensors", "logbook", "decisions", "surveys"} {
		data, err := os.ReadFile(filepath.Join(dir, "register", name+".csv"))
		if err != nil {
			t.Fatal(err)
		}
		as[name] = data
		var b bytes.Buffer
		header := false
		for line := range strings.Lines(string(data)) {
			if header {
				line = strings.TrimPrefix(line, "#")
			}
			header = header || line[0] != '#'
			b.WriteString(line)
		}
		shown[name] = b.Bytes()
	}
	return dir, as, shown
}

// TestExamplesPassTheCheck: who takes the # out has a register that is right.
func TestExamplesPassTheCheck(t *testing.T) {
	_, _, shown := written(t)
	r, found := register.Parse(shown["fixtures"], shown["sensors"], shown["logbook"], time.UTC)
	more := register.ParseDecisions(r, shown["decisions"], time.UTC)
	notes, rest := register.ParseSurveys(shown["surveys"])
	if err := append(append(found, more...), rest...).Err(); err != nil {
		t.Fatal(err)
	}
	if len(r.Fixtures) != 1 || len(r.Sensors) != 1 || len(r.Logbook) != 1 || len(r.Decisions) != 1 || len(notes) != 1 {
		t.Errorf("one example row a file: %d %d %d %d %d", len(r.Fixtures), len(r.Sensors), len(r.Logbook), len(r.Decisions),
			len(notes))
	}
}

// TestCommentsNameAllAllowedValues holds the comments against the lists that the
// check knows.
func TestCommentsNameAllAllowedValues(t *testing.T) {
	_, as, _ := written(t)
	has := func(file, word string) {
		if !strings.Contains(string(as[file]), word) {
			t.Errorf("%s.csv does not name %s", file, word)
		}
	}
	for _, w := range fleet.LampTypes {
		has("fixtures", " "+string(w))
	}
	for _, w := range fleet.Gears {
		has("fixtures", " "+string(w))
	}
	for _, q := range fleet.Quantities {
		has("sensors", " "+string(q.Name)+" "+q.Unit)
	}
	for _, w := range fleet.Whats {
		has("logbook", " "+string(w))
	}
	for _, s := range fleet.Scopes {
		has("logbook", " "+string(s))
	}
}

// TestCommentsSurviveASpreadsheet: one that holds a quote would come back quoted,
// and no longer begin with #.
func TestCommentsSurviveASpreadsheet(t *testing.T) {
	_, as, _ := written(t)
	for name, data := range as {
		for line := range strings.Lines(string(data)) {
			if line[0] == '#' && strings.Contains(line, `"`) {
				t.Errorf("%s.csv: %s", name, line)
			}
		}
	}
}
