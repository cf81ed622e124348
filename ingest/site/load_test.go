package site

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"wane/transform/fleet"
)

// fiveFields stands for the check of the schedules.
func fiveFields(line string) error {
	if len(strings.Fields(line)) != 5 {
		return fmt.Errorf("%q is not five fields", line)
	}
	return nil
}

// Each testdata/*.bad.yaml is one file with mistakes; beside it stands the
// exact text that a person gets.
func TestEveryMistakeIsListedWithItsPlace(t *testing.T) {
	files, err := filepath.Glob("testdata/*.bad.yaml")
	if err != nil || len(files) == 0 {
		t.Fatalf("no cases: %v", err)
	}
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		want, err := os.ReadFile(strings.TrimSuffix(f, ".yaml") + ".txt")
		if err != nil {
			t.Fatal(err)
		}
		_, found := Parse(data, fiveFields)
		if got := found.Error() + "\n"; got != string(want) {
			t.Errorf("%s:\n--- got\n%s--- want\n%s", f, got, want)
		}
	}
}

func TestParseOverridesOnlyWhatIsNamed(t *testing.T) {
	c, found := Parse([]byte("name: Invented\nzone: Europe/Amsterdam\nthresholds:\n  rooms:\n    veg: {level: 0.85}\n    bloom: {ppfd: 700}\n  lamp_types:\n    led: 0.8\ngate:\n  run_up_min: {cmh: 25}\nforecast:\n  lamp_types:\n    cmh: {slope: {mean: 0.2}}\nrooms:\n  veg: {on: \"06:00\", hours: 18}\n"), fiveFields)
	if err := found.Err(); err != nil {
		t.Fatal(err)
	}
	if c.Thresholds.Of("veg", fleet.LED).Level != 0.85 || c.Thresholds.Of("bloom", fleet.LED).PPFD != 700 ||
		c.Thresholds.Of("x", fleet.LED).Level != 0.8 || c.Thresholds.Of("x", fleet.CMH).Level != 0.9 {
		t.Fatalf("thresholds: %+v", c.Thresholds)
	}
	if c.Interval != 0.8 || c.Gate.RunUp[fleet.LED] != 30 || c.Gate.RunUp[fleet.CMH] != 25 ||
		c.Forecast.Classes["cmh"].Slope.Mean != 0.2 || c.Forecast.Classes["cmh"].Slope.SD == 0 ||
		c.Forecast.Classes["led"].Slope.Mean == 0 || c.Location.String() != "Europe/Amsterdam" {
		t.Fatalf("defaults lost: %+v", c)
	}
}

func TestEmptyFileNamesWhatIsMissing(t *testing.T) {
	_, found := Parse(nil, fiveFields)
	if len(found) != 2 {
		t.Fatalf("want two problems (name, zone), got %v", found)
	}
}
