package main

import (
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"wane/transform/due"
	"wane/transform/forecast"
)

// The table for people keeps within its columns whatever the lamps are called
// and whatever is to be said of them, the soonest on top.
func TestDueForPeople(t *testing.T) {
	nan := math.NaN()
	line := func(id string, s forecast.Status, level, at, lo, hi float64, reason string) due.Line {
		return due.Line{Fixture: id, AsOf: 20000, Status: s, Level: level, LevelLo: level - 0.0187, LevelHi: level + 0.0187,
			DueDate: at, DueDateLo: lo, DueDateHi: hi, Reason: reason}
	}
	long := strings.Repeat("a reason that does not end ", 20)
	lines := []due.Line{
		line("A1", forecast.StatusForecast, 0.93, 20500, 20400, 20700, long),
		line(strings.Repeat("a name\tthat goes on ", 9), forecast.StatusBeyond, 0.99, nan, 21000, nan, ""),
		line("N1", forecast.StatusNoData, nan, nan, nan, nan, "no complete week with at least 2 usable daily values"),
		line("Ü1", forecast.StatusUnder, 0.88, 19900, 19800, 19990,
			"already under 0.9; the interval of its level still reaches the threshold"),
		line("I1", forecast.StatusInseparable, 0.95, nan, 20300, 23000,
			"drift of the sensor and ageing of the lamp can't be told apart"),
		line("D1", forecast.StatusDark, 0.8, nan, nan, nan, "dark"),
	}
	for _, width := range []int{80, 120, 200} {
		var b strings.Builder
		if err := dueText(&b, dueChoice{sort: "due"}.of(lines), width); err != nil {
			t.Fatal(err)
		}
		rows := strings.Split(strings.TrimSuffix(b.String(), "\n"), "\n")
		if len(rows) != len(lines)+1 {
			t.Fatalf("%d rows for %d lamps:\n%s", len(rows), len(lines), b.String())
		}
		for _, r := range rows {
			if n := utf8.RuneCountInString(r); n > width {
				t.Errorf("%d columns of %d: %q", n, width, r)
			}
		}
		for i, want := range []string{"fixture", "D1", "Ü1", "A1", "I1", "a name?that", "N1"} {
			if !strings.HasPrefix(rows[i], want) {
				t.Errorf("row %d is %q, want %s", i, rows[i], want)
			}
		}
		for _, want := range []string{"0.88 ±0.019  2024-06-26  Mar 24-Sep 24  under", "borderline", "drift or a",
			"too few re", "from Jul 27"} {
			if !strings.Contains(b.String(), want) {
				t.Errorf("at %d columns there is no %q:\n%s", width, want, b.String())
			}
		}
		if strings.Index(rows[2], "0.88")-len("Ü") != strings.Index(rows[3], "0.93")-len("A") {
			t.Errorf("numbers are not set to the right:\n%s", b.String())
		}
	}
}
