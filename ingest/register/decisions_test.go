package register

import (
	"strings"
	"testing"
	"time"

	"wane/transform/fleet"
)

const goodDecisions = `sensor,channel,from,to,keep,note
log,1,2025-03-31T14:00:00+02:00,,812.5,seen on the screen
log,1,2025-03-01,2025-03-02,Highest,
log,2,2025-03-01,2025-03-02,none,"a, b"
log,*,2025-04-01,2025-04-30,finest,exported twice
*,2,2025-04-01,2025-04-30,lowest,
*,*,2025-04-02,2025-05-31,highest,
`

func withSeries() *fleet.Register {
	return &fleet.Register{Sensors: []fleet.SensorPeriod{{Sensor: "log", Channel: "1"}, {Sensor: "log", Channel: "2"}}}
}

func TestDecisions(t *testing.T) {
	loc, err := time.LoadLocation("Europe/Amsterdam")
	if err != nil {
		t.Fatal(err)
	}
	r := withSeries()
	if err := ParseDecisions(r, []byte(goodDecisions), loc).Err(); err != nil {
		t.Fatal(err)
	}
	at := func(s string) time.Time {
		x, err := time.Parse(time.RFC3339, s)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	for _, c := range []struct {
		channel, at   string
		values        []float64
		value         float64
		kept, settled bool
	}{
		{"1", "2025-03-31T12:00:00Z", []float64{500, 812.5}, 812.5, true, true},
		{"1", "2025-03-31T12:00:00Z", []float64{500, 812.4}, 0, false, false}, // the value is none of them
		{"1", "2025-03-31T12:00:01Z", []float64{500, 812.5}, 0, false, false}, // that moment alone
		{"1", "2025-02-28T23:00:00Z", []float64{1, 2, 3}, 3, true, true},      // from the start of the first day
		{"1", "2025-02-28T22:59:59Z", []float64{1, 2, 3}, 0, false, false},
		{"1", "2025-03-02T22:59:59Z", []float64{1, 2}, 2, true, true}, // to the end of the last
		{"1", "2025-03-02T23:00:00Z", []float64{1, 2}, 0, false, false},
		{"2", "2025-03-01T12:00:00Z", []float64{1, 2}, 0, false, true},
		{"3", "2025-03-01T12:00:00Z", []float64{1, 2}, 0, false, false},
		{"1", "2025-04-02T12:00:00Z", []float64{702.458, 702.46, 702.5}, 702.458, true, true},
		{"2", "2025-04-02T12:00:00Z", []float64{702.458, 702.46}, 702.458, true, true}, // who names the sensor goes first
		{"2", "2025-04-02T12:00:00Z", []float64{702.4, 702.5}, 702.4, true,
			true}, // and where that does not fit, the channel
		{"1", "2025-04-02T12:00:00Z", []float64{702.4, 702.5}, 702.5, true, true}, // else what holds for all
		{"1", "2025-04-01T12:00:00Z", []float64{702.4, 702.5}, 0, false, false},
	} {
		v, kept, settled := r.Decide("log", c.channel, at(c.at), c.values)
		if v != c.value || kept != c.kept || settled != c.settled {
			t.Errorf("%+v: %v %v %v", c, v, kept, settled)
		}
	}
}

// TestFinest: the value of most decimals holds only where the others are that
// value with fewer decimals.
func TestFinest(t *testing.T) {
	for _, c := range []struct {
		values []float64
		want   float64
		ok     bool
	}{
		{[]float64{702.458, 702.46}, 702.458, true},
		{[]float64{702.45, 702.458}, 702.458, true}, // cut
		{[]float64{702, 702.458, 702.5}, 702.458, true},
		{[]float64{-3.46, -3.458, -3.45}, -3.458, true}, // rounded, and cut
		{[]float64{0.12, 0.125, 0.13}, 0.125, true},     // a half goes either way
		{[]float64{702.44, 702.458}, 0, false},
		{[]float64{702.458, 702.459}, 0, false},
		{[]float64{500, 800}, 0, false},
		{[]float64{701, 702.458}, 0, false},
		{[]float64{1e-7, 1e20}, 0, false},
		{nil, 0, false},
	} {
		if got, ok := fleet.Finest(c.values); got != c.want || ok != c.ok {
			t.Errorf("%v: %v %v", c.values, got, ok)
		}
	}
}

// Each mistake by its place.
func TestDecisionMistakes(t *testing.T) {
	for row, want := range map[string]string{
		"lög,1,2025-03-01,,1,":           `register/decisions.csv:2:6: channel: no series is called "lög/1"; did you mean "log/1"?`,
		",1,2025-03-01,,1,":              "register/decisions.csv:2:1: sensor: is empty; write a value",
		"log,1,,,1,":                     "register/decisions.csv:2:7: from: is empty; write a value",
		"log,1,1.3.2025,,1,":             `register/decisions.csv:2:7: from: "1.3.2025" is neither a date nor a time`,
		"log,1,2025-03-02,2025-03-01,1,": "register/decisions.csv:2:18: to: ends before it begins",
		"log,1,2025-03-01,,,":            "register/decisions.csv:2:19: keep: is empty; write a value",
		"log,1,2025-03-01,,NaN,":         `register/decisions.csv:2:19: keep: "NaN" is not known`,
		"log,1,2025-03-01,,\"812,5\",":   `register/decisions.csv:2:19: keep: "812,5" is not known`,
		"log,1,2025-03-01":               "register/decisions.csv:2: 3 fields where the header has 6",
		"log,1,2025-03-01,,1,\nlog,1,2025-03-01,2025-03-09,2,": "register/decisions.csv:3: log/1 has a decision for the same time on line 2",
	} {
		found := ParseDecisions(withSeries(), []byte("sensor,channel,from,to,keep,note\n"+row+"\n"), time.UTC)
		if !strings.Contains(found.Error(), want) {
			t.Errorf("%s:\n%v\nwant %s", row, found, want)
		}
	}
}

func FuzzDecisions(f *testing.F) {
	f.Add(goodDecisions)
	f.Add("sensor,channel,from,to,keep,note\nlog,1,2025-03-01,,1e999,\n")
	f.Add("\xef\xbb\xbfkeep,from,to,sensor,channel,note\n\"")
	f.Fuzz(func(t *testing.T, text string) {
		r := withSeries()
		if len(ParseDecisions(r, []byte(text), time.UTC)) > 0 {
			return
		}
		for _, d := range r.Decisions { // what passes can be used
			if d.To.Before(d.From) || d.Sensor == "" || d.Channel == "" {
				t.Errorf("%+v", d)
			}
			r.Decide(d.Sensor, d.Channel, d.From, []float64{1, 2})
		}
	})
}
