package inspect

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"wane/ingest/reading"
)

// kept is what a trial keeps of one series: readings at steps after each other, whose values
// have one decimal.
func kept(steps []time.Duration, value func(i int) float64) *keep {
	s := series{name: reading.Series{Sensor: "bay 1", Channel: "ch"}}
	at := spring
	for i := range len(steps) + 1 {
		v := reading.Value{Mantissa: int64(value(i) * 10), Digits: 1}
		s.points = append(s.points, point{at.UnixMicro(), v, int32(i + 2)})
		if i < len(steps) {
			at = at.Add(steps[i])
		}
	}
	return &keep{all: []series{s}}
}

func doubts(r *Report, what string) bool {
	return slices.ContainsFunc(r.Checks, func(c Check) bool { return c.What == what && len(c.Rows) > 0 })
}

// TestCadenceCheck: a few short steps and one that fills the hour, over and over, is a number
// taken for minutes. What a logger does by itself is not.
func TestCadenceCheck(t *testing.T) {
	const minute = time.Minute
	turn := func(times int, steps ...time.Duration) (out []time.Duration) {
		for range times {
			out = append(out, steps...)
		}
		return out
	}
	quarters := []time.Duration{minute, minute, minute, 57 * minute}
	for _, c := range []struct {
		name  string
		steps []time.Duration
		fails bool
	}{
		{"quarters 1 to 4 as minutes", turn(12, quarters...), true},
		{"newest first", turn(12, -minute, -minute, -minute, -57*minute), true},
		{"half hours 1 and 2 as minutes", turn(20, minute, 59*minute), true},
		{"six parts as minutes", turn(8, minute, minute, minute, minute, minute, 55*minute), true},
		{"one line is missing", append(turn(12, quarters...), minute, 58*minute), true},
		{"a steady quarter", turn(48, 15*minute), false},
		{"steady, and one gap that ends with the hour", append(turn(40, minute), 20*minute), false},
		{"a burst that does not fill the hour", turn(12, minute, minute, minute, 27*minute), false},
		{"two steps of a logger in use", turn(20, 20*minute, 40*minute), false},
		{"too few to tell", turn(4, quarters...), false},
		{"any other steps besides", append(turn(12, quarters...), 3*minute, 8*minute, 13*minute, 4*minute), false},
	} {
		r := &Report{}
		r.checkCadence(kept(c.steps, func(i int) float64 { return float64(i) }))
		if doubts(r, "cadence") != c.fails {
			t.Errorf("%s: fails is %v: %+v", c.name, !c.fails, r.Checks)
		}
	}
}

// TestRangeCheck: where a good part of a quantity's values cannot be, the check fails. A few,
// or one code again and again, it lets pass, and what has a unit or a factor of its own.
func TestRangeCheck(t *testing.T) {
	steady := make([]time.Duration, 99)
	for i := range steady {
		steady[i] = 15 * time.Minute
	}
	part := func(share int, good, bad float64) func(int) float64 { // share of 10 lines are bad
		return func(i int) float64 {
			if i%10 < share {
				return bad + float64(i)
			}
			return good
		}
	}
	for _, c := range []struct {
		name   string
		column Column
		value  func(i int) float64
		fails  bool
	}{
		{"light", Column{Quantity: "ppfd"}, part(10, 0, 700), false},
		{"light without its decimals", Column{Quantity: "ppfd"}, part(10, 0, 70000), true},
		{"light far below none", Column{Quantity: "ppfd"}, part(10, 0, -70000), true},
		{"humidity without its decimals", Column{Quantity: "rh_pct"}, part(10, 0, 5800), true},
		{"dimming without its decimals", Column{Quantity: "dim_pct"}, part(10, 0, 7000), true},
		{"volts without their decimals", Column{Quantity: "supply_v"}, part(10, 0, 230000), true},
		{"warmth without its decimals", Column{Quantity: "ambient_c"}, part(10, 0, 2180), true},
		{"three of ten lines", Column{Quantity: "ppfd"}, part(3, 700, 70000), true},
		{"two of ten lines", Column{Quantity: "ppfd"}, part(2, 700, 70000), false},
		{"one code for no value", Column{Quantity: "ppfd"}, func(i int) float64 { return -99999 * float64(i%2) }, false},
		{"energy has no bounds", Column{Quantity: "energy_kwh"}, part(10, 0, 70000), false},
		{"no quantity", Column{}, part(10, 0, 70000), false},
		{"millivolts", Column{Quantity: "supply_v", Unit: "mV"}, part(10, 0, 230000), false},
		{"lux as light", Column{Quantity: "ppfd", light: true}, part(10, 0, 70000), false},
	} {
		c.column.Role, c.column.Channel = "value", "ch"
		r := &Report{Columns: []Column{{Role: "text", Channel: "ch"}, c.column}}
		r.checkValues(kept(steady, c.value))
		if doubts(r, "range") != c.fails {
			t.Errorf("%s: fails is %v: %+v", c.name, !c.fails, r.Checks)
		}
	}
}

// TestChecksAreMade: both checks stand between a proposal and its belief, in the file as read.
func TestChecksAreMade(t *testing.T) {
	for _, c := range []struct{ what, text string }{
		{"cadence", rows("time,ppfd", time.UTC, spring, 15*time.Minute, 96, func(at time.Time, i int) string {
			return at.Format("2006-01-02T15:") + fmt.Sprintf("%02d:00Z,%d.5", 1+at.Minute()/15, 400+i)
		})},
		{"range", rows("time,ppfd", time.UTC, spring, 15*time.Minute, 96, func(at time.Time, i int) string {
			return at.Format("2006-01-02T15:04:05Z,") + fmt.Sprint(400125+100*i)
		})},
	} {
		rep, err := File("export.csv", strings.NewReader(c.text))
		if err != nil || rep.Believable() || !doubts(rep, c.what) {
			t.Errorf("%s: %v, %+v", c.what, err, rep)
		}
	}
}
