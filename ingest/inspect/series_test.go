package inspect

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"wane/ingest/source"
)

// table of the invented bays: a row a bay (and a quantity) every quarter hour.
func bays(header string, row func(stamp string, i, bay int) string) string {
	var b strings.Builder
	b.WriteString(header + "\n")
	for i := range 40 {
		for bay := 1; bay <= 3; bay++ {
			b.WriteString(row(fmt.Sprintf("2026-03-01T%02d:%02d:00Z", i/4, i%4*15), i, bay) + "\n")
		}
	}
	return b.String()
}

// TestRowsOfOneTimeAreToldApart: a column that names the series is found by what
// it does, whatever its heading; where several could be it, inspect asks.
func TestRowsOfOneTimeAreToldApart(t *testing.T) {
	for _, c := range []struct {
		name, text string
		sensors    []string // of the first rows
		channels   []string
		asks       string
	}{
		{
			"names under an unknown heading",
			bays("time;place;PPFD (umol/m2/s)", func(at string, i, bay int) string {
				return fmt.Sprintf("%s;bay %d;%d.5", at, bay, 700+bay+i)
			}),
			[]string{"bay 1", "bay 2", "bay 3"}, []string{"ppfd"}, "",
		},
		{
			"numbers beside a channel",
			bays("time;bay;parameter;value", func(at string, i, bay int) string {
				return fmt.Sprintf("%s;%d;PPFD;%d.5\n%s;%d;supply_v;23%d.1", at, bay, 700+bay+i, at, bay, bay)
			}),
			[]string{"1", "2", "3"}, []string{"PPFD", "supply_v"}, "",
		},
		{
			"two columns named like channels",
			bays("time;channel;quantity;value", func(at string, i, bay int) string {
				return fmt.Sprintf("%s;F-%d;illuminance;%d", at, bay, 700+bay+i)
			}),
			[]string{"F-1", "F-2", "F-3"}, []string{"illuminance"}, "",
		},
		{
			"one logger, its places beside it",
			bays("time;logger;place;PPFD (umol/m2/s)", func(at string, i, bay int) string {
				return fmt.Sprintf("%s;L1;bay %d;%d.5", at, bay, 700+bay+i)
			}),
			[]string{"bay 1", "bay 2", "bay 3"}, []string{"ppfd"}, "",
		},
		{
			"two columns that name the same things",
			bays("time;where;code;PPFD (umol/m2/s)", func(at string, i, bay int) string {
				return fmt.Sprintf("%s;bay %d;B%d;%d.5", at, bay, bay, 700+bay+i)
			}),
			[]string{"bay 1", "bay 2", "bay 3"}, []string{"ppfd"}, "",
		},
		{
			"two columns that could name it",
			bays("time;where;who;PPFD (umol/m2/s)", func(at string, i, bay int) string {
				return fmt.Sprintf("%s;bay %d;%c;%d.5", at, bay, "abcd"[(i/20+bay)%4], 700+bay+i)
			}),
			[]string{"bay 1", "bay 2", "bay 3"}, []string{"ppfd"}, "sensor",
		},
		{
			"two columns that name it together",
			bays("time;where;side;PPFD (umol/m2/s)", func(at string, i, bay int) string {
				return fmt.Sprintf("%s;bay %d;left;%d.5\n%s;bay %d;right;%d.5", at, bay, 700+bay+i, at, bay, 800+bay+i)
			}),
			[]string{"bay 1/left", "bay 1/right", "bay 2/left", "bay 2/right", "bay 3/left", "bay 3/right"}, []string{"ppfd"},
			"",
		},
		{
			"rooms and sensors, each named like one",
			bays("time;room;sensor;PPFD (umol/m2/s)", func(at string, i, bay int) string {
				return fmt.Sprintf("%s;veg;%d;%d.5\n%s;flower;%d;%d.5", at, bay, 700+bay+i, at, bay, 800+bay+i)
			}),
			[]string{"flower/1", "flower/2", "flower/3", "veg/1", "veg/2", "veg/3"}, []string{"ppfd"}, "",
		},
		{
			"an entity, its state and when it changed, each at its own time",
			strings.ReplaceAll(bays("entity;state;last_changed", func(at string, i, bay int) string {
				return fmt.Sprintf("bay%d_light;%d.5;%s:%02dZ", bay, 700+100*bay+i, at[:16], 7*bay)
			}), ";", ","),
			[]string{"bay1_light", "bay2_light", "bay3_light"}, []string{"state"}, "",
		},
		{
			"a word by which levels differ, each at its own time",
			bays("time;side;PPFD (umol/m2/s)", func(at string, i, bay int) string {
				return fmt.Sprintf("%s:%02dZ;side %d;%d.5", at[:16], 7*bay, bay, 700+100*bay+i)
			}),
			[]string{"side 1", "side 2", "side 3"}, []string{"ppfd"}, "sensor",
		},
		{
			"nothing that could name it",
			bays("time;PPFD (umol/m2/s)", func(at string, i, bay int) string { return fmt.Sprintf("%s;%d.5", at, 700+bay+i) }),
			[]string{"lab"}, []string{"ppfd"}, "series",
		},
		{
			"nothing that could name it, in a long file of one sensor",
			bays("time;sensor;parameter;value", func(at string, i, bay int) string {
				return fmt.Sprintf("%s;L1;PPFD;%d.5", at, 700+bay+i)
			}),
			[]string{"L1"}, []string{"PPFD"}, "series",
		},
		{
			"a remark on each row of one series",
			"time;PPFD (umol/m2/s);where\n" + strings.Repeat("2026-03-01T00:00:00Z;700.5;north\n", 3) +
				"2026-03-01T00:15:00Z;701.5;south\n2026-03-01T00:30:00Z;701.5;south\n",
			[]string{"lab"}, []string{"ppfd"}, "",
		},
	} {
		rep, err := File("lab.csv", strings.NewReader(c.text))
		if err != nil {
			t.Fatal(c.name, err)
		}
		asks := ""
		for _, q := range rep.Questions {
			asks += q.Key
		}
		var sensors, channels []string
		for _, r := range rep.Rows {
			sensors, channels = append(sensors, r.Sensor), append(channels, r.Channel)
		}
		slices.Sort(sensors)
		slices.Sort(channels)
		if sensors, channels = slices.Compact(sensors), slices.Compact(channels); asks != c.asks ||
			!slices.Equal(sensors, c.sensors) || !slices.Equal(channels, c.channels) {
			t.Errorf("%s: sensors %q, channels %q, asks %q\n%s", c.name, sensors, channels, asks, rep.Proposal)
		}
		if said := strings.Contains(rep.Proposal, "# decide"); said != (c.asks != "") {
			t.Errorf("%s: the proposal says that something is to be decided: %v\n%s", c.name, said, rep.Proposal)
		}
		_, err = source.Load([]byte(rep.Proposal), "proposal.yaml")
		if loads := err == nil; loads != (c.asks != "sensor") {
			t.Errorf("%s: loads %v: %v", c.name, loads, err)
		}
	}
}

// TestThousandsMarksOfWholeNumbers: a column that holds no decimals is a column of
// numbers all the same.
func TestThousandsMarksOfWholeNumbers(t *testing.T) {
	for mark, decimal := range map[string]string{"'": ".", "\u2019": ".", "\u00a0": ",", "\u202f": ",", " ": ",", ".": ",",
		",": "."} {
		for _, thousands := range []string{"49", "1" + mark + "049"} {
			var b strings.Builder
			b.WriteString("time;lux;supply (V)\n")
			for i := range 20 {
				fmt.Fprintf(&b, "2026-03-01T00:%02d:00Z;%s%s%03d;230%s5\n", i, thousands, mark, 100+i, decimal)
			}
			rep, err := File("lab.csv", strings.NewReader(b.String()))
			if err != nil {
				t.Fatal(err)
			}
			want := strings.ReplaceAll(thousands, mark, "") + "100"
			if len(rep.Questions) > 0 || len(rep.Rows) < 2 || rep.Rows[0].Value != want || rep.Rows[1].Value != "230.5" ||
				len(rep.Rejects) > 0 {
				t.Errorf("mark %q: %v %v %v\n%s", mark, rep.Questions, rep.Rows, rep.Rejects, rep.Proposal)
			}
		}
	}
}
