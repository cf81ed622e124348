package inspect

import (
	"strings"
	"testing"

	"wane/ingest/source"
)

// TestPatternsFitTheNextFile: the pattern proposed from one file's name fits the
// names of those that follow, and not those of other loggers.
func TestPatternsFitTheNextFile(t *testing.T) {
	for _, c := range []struct{ name, pattern, next, other string }{
		{"bay07_20260113.csv", "bay07_*.csv", "bay07_20260213.csv", "bay08_20260213.csv"},
		{"bay07_2026-01-13_0600.csv", "bay07_*.csv", "bay07_2026-02-13_0600.csv", "bay08_2026-02-13_0600.csv"},
		{"export.csv", "export*.csv", "export_2.csv", "report.csv"},
		{"export (1).csv", "export*.csv", "export (12).csv", "report (1).csv"},
		{"meter january 2026.csv", "meter*.csv", "meter february 2026.csv", "heat february 2026.csv"},
		{"20260113.csv", "[0-9]*.csv", "20260213.csv", "bay.csv"},
		{"2026-01-13.csv", "[0-9]*.csv", "2026-02-13.csv", "bay.csv"},
		{"hall [a].txt", "hall ?a?*.txt", "hall [a] 2.txt", "hall.txt"},
	} {
		got := globOf(c.name, c.name)
		d := source.Description{Files: []string{got}}
		if got != c.pattern || !d.Match(c.name) || !d.Match(c.next) || d.Match(c.other) {
			t.Errorf("%s: %s, fits it %v, the next %v, another's %v", c.name, got, d.Match(c.name), d.Match(c.next),
				d.Match(c.other))
		}
		if strings.Contains(got, "\x00") {
			t.Errorf("%s: %q", c.name, got)
		}
	}
}
