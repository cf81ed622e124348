package report

import (
	"strings"
	"testing"
	"time"
)

// A table whose words stand side by side on a narrow page stays one; any other is
// stacked there.
func TestSmallTablesStayTables(t *testing.T) {
	head := columns("Room", "#At its start", "#At its end")
	for _, c := range []struct {
		name string
		cell Cell
		want bool
	}{{"numbers", cell("12"), true}, {"an interval", Cell{Text: "12", Interval: "11 to 13"}, true},
		{"a sentence", cell("goes with its room, though alone it would stay longer"), false},
		{"a note", Cell{Text: "12", Note: "x"}, false}, {"a drawing", Cell{Drawing: "<svg></svg>"}, false}} {
		table := Table{Head: head, Rows: []Row{{Heading: strings.Repeat("a long heading ", 9)},
			{Cells: []Cell{cell("F1"), cell("12"), c.cell}}}}
		if got := table.Small(); got != c.want {
			t.Errorf("with %s: small is %v", c.name, got)
		}
	}
}

func TestWordsOfThePlanAreWrittenAsThePagesWrite(t *testing.T) {
	if in := "see `wane plan --at 2027-02-11`"; spoken(in) != in {
		t.Errorf("a command is spoken: %q", spoken(in))
	}
	in := "past half the group's interval of 11246 h; 900 h; EUR 78 by 2027-02-11 for hps-de"
	want := "past half the group's interval of 11,246\u00a0h; 900 h; EUR\u00a078 by 11\u00a0Feb\u00a02027 for HPS, double-ended"
	if got := spoken(in); got != want {
		t.Errorf("%q", got)
	}
}

func TestDurationsAreWrittenForPeople(t *testing.T) {
	for d, want := range map[time.Duration]string{58*time.Hour + 45*time.Minute: "58 h 45 min", 15 * time.Minute: "15 min",
		30 * time.Second: "30 s", 0: "under 1 s"} {
		if got := strings.ReplaceAll(lasting(d), "\u00a0", " "); got != want {
			t.Errorf("%v is written %q", d, got)
		}
	}
}
