package hours

import (
	"encoding/json"
	"reflect"
	"testing"

	"pgregory.net/rapid"
)

// Going on from a sum gives the bits of adding the whole life up, wherever the
// sum is settled and holds, and whether or not it was stored in between.
func TestSumGoesOn(t *testing.T) {
	cuts := 0
	rapid.Check(t, func(t *rapid.T) {
		const n = 60
		var days []Day
		metered := rapid.SampledFrom([]int{0, 1, 7, 30}).Draw(t, "days between readings")
		meter, at := rapid.Float64Range(0, 99).Draw(t, "meter"), int64(0)
		for d := int32(0); d < n; d++ {
			if rapid.IntRange(0, 8).Draw(t, "silent") == 0 {
				continue
			}
			lit := rapid.Float64Range(0, 20).Draw(t, "lit")
			w := Day{Day: d, Length: 24, LitH: lit, EdgeH: rapid.Float64Range(0, 1).Draw(t, "edge"), GapH: rapid.Float64Range(0, 3).Draw(t, "gap")}
			if metered > 0 && d >= 5 && int(d)%metered == 0 {
				now := (int64(d)+1)*24*microPerHour - 1
				meter += rapid.Float64Range(0, 1).Draw(t, "share") * float64(now-at) / microPerHour
				if rapid.IntRange(0, 20).Draw(t, "replaced") == 0 {
					meter = 0
				}
				at = now
				w.MeterAt, w.Meter = now, meter
				if rapid.Bool().Draw(t, "read in the morning too") {
					w.FirstAt, w.First = int64(d)*24*microPerHour, max(0, meter-lit)
				}
			}
			days = append(days, w)
		}
		start := Start{Hours: rapid.Float64Range(0, 200).Draw(t, "start"), First: rapid.Bool().Draw(t, "first lamp")}
		habit := Habit(rapid.SampledFrom([]float64{-1, 12}).Draw(t, "habit"))
		whole, _ := Add(days, start, n-1, habit)

		cut := int32(rapid.IntRange(0, n-1).Draw(t, "cut"))
		k := 0
		for k < len(days) && days[k].Day <= cut {
			k++
		}
		before, sum, _ := Begin(start).Through(days[:k], cut, habit)
		if !sum.Settled() || !sum.Holds(days[k:]) {
			return
		}
		cuts++
		text, err := json.Marshal(sum)
		if err != nil {
			t.Fatal(err)
		}
		var stored Sum
		if err := json.Unmarshal(text, &stored); err != nil {
			t.Fatal(err)
		}
		after, _ := stored.Add(days[k:], n-1, habit)
		for i, x := range append(before, after...) {
			w := whole[i]
			if x.Disagree != x.Disagree && w.Disagree != w.Disagree {
				x.Disagree, w.Disagree = 0, 0
			}
			if !reflect.DeepEqual(x, w) {
				t.Fatalf("cut after day %d: day %d is %+v, not %+v", cut, i, x, w)
			}
		}
		if got, want := stored.Total().Hours, whole[cut].Hours; got != want {
			t.Fatalf("hours at the cut %v, not %v", got, want)
		}
	})
	if cuts == 0 {
		t.Error("no cut was settled")
	}
}
