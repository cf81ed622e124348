package todo

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wane/transform/estimate"
	"wane/transform/forecast"
	"wane/transform/plan"
)

var everyStatus = []forecast.Status{forecast.StatusForecast, forecast.StatusUnder, forecast.StatusBeyond,
	forecast.StatusTooEarly,
	forecast.StatusInseparable, forecast.StatusDark, forecast.StatusNoData}

// invent draws a site of lamps in every state, planned or not.
func invent(t *rapid.T) Input {
	in := Input{AsOf: 20000, Today: time.Date(2024, 10, 5, 0, 0, 0, 0, time.UTC)}
	planned := rapid.Bool().Draw(t, "planned")
	for i := range rapid.IntRange(0, 40).Draw(t, "lamps") {
		l := Lamp{Fixture: fmt.Sprintf("X%02d", i), Room: rapid.SampledFrom([]string{"", "R1", "R2"}).Draw(t, "room"),
			Threshold: 0.9,
			Status:    rapid.SampledFrom(everyStatus).Draw(t, "status"), Level: estimate.None("", ""),
			DueDay: estimate.None("", ""),
			Reason: rapid.SampledFrom([]string{"", "too few hours"}).Draw(t, "reason"),
			Settle: rapid.SampledFrom([]string{"", "recalibrate"}).Draw(t, "settle"),
			Sensor: rapid.SampledFrom([]string{"S1", "S2"}).Draw(t, "sensor"),
			Silent: rapid.SampledFrom([]int{0, 0, 0, 9}).Draw(t, "silent")}
		if rapid.Bool().Draw(t, "known") {
			x := rapid.Float64Range(0.5, 1).Draw(t, "level")
			l.Level = estimate.Estimate{Centre: x, Lo: x - 0.02, Hi: x + 0.02}
			d := float64(in.AsOf) + rapid.Float64Range(-400, 900).Draw(t, "due")
			l.DueDay = estimate.Estimate{Centre: d, Lo: d - 40, Hi: math.Inf(1)}
		}
		if planned {
			p := &plan.LampPlan{Fixture: l.Fixture, LossPerYear: estimate.Estimate{Centre: rapid.Float64Range(0, 90).Draw(t,
				"loss")}}
			p.Decision = rapid.SampledFrom([]plan.Decision{plan.Keep, plan.SpotRelamp, plan.GroupRelamp}).Draw(t, "do")
			if p.Decision != plan.Keep {
				p.Date = in.Today.AddDate(0, 0, rapid.IntRange(0, 400).Draw(t, "on"))
			}
			l.Plan = p
		}
		in.Lamps = append(in.Lamps, l)
	}
	for range rapid.IntRange(0, 3).Draw(t, "orders") {
		in.Orders = append(in.Orders, plan.Order{Quantity: rapid.IntRange(0, 5).Draw(t, "quantity"),
			OrderBy: in.Today.AddDate(0, 0, rapid.IntRange(0, 60).Draw(t, "by"))})
	}
	return in
}

// Every lamp that asks for something stands in one action of its kind, with the
// plan's decision about it; no other does; and the list is in order.
func TestEveryLampHasOneDecision(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := invent(t)
		list := List(in)
		in1 := map[string]int{}
		silent := map[string]bool{}
		counted := [Nothing + 1]int{}
		for i, a := range list {
			if i > 0 && list[i-1].Kind > a.Kind {
				t.Fatalf("%d stands before %d", list[i-1].Kind, a.Kind)
			}
			if len(a.Fixtures) != len(a.Lamps) {
				t.Fatalf("%d names for %d lamps", len(a.Fixtures), len(a.Lamps))
			}
			if a.Kind == Order && (a.Order.Quantity == 0 || a.Order.OrderBy.After(in.Today.AddDate(0, 0, OrderDays))) {
				t.Fatal("an order that need not be placed is listed")
			}
			for _, l := range a.Lamps {
				if a.Kind == Silent {
					silent[l.Fixture] = true
					continue
				}
				in1[l.Fixture]++
				counted[a.Kind]++
				if l.Kind(in.AsOf) != a.Kind {
					t.Fatalf("%s (%s) stands under kind %d", l.Fixture, l.Status, a.Kind)
				}
				if d := l.Decide(in.AsOf); a.Kind < Question && (d.Do != a.Decision.Do || !d.On.Equal(a.Decision.On)) {
					t.Fatalf("%s: its action says %v %v, its plan %v %v", l.Fixture, a.Decision.Do, a.Decision.On, d.Do, d.On)
				}
			}
		}
		total := 0
		by := Count(in)
		for k, n := range by {
			total += n
			if Kind(k) < Missing && counted[k] != n {
				t.Fatalf("%d lamps of kind %d are counted, %d listed", n, k, counted[k])
			}
		}
		if total != len(in.Lamps) {
			t.Fatalf("%d of %d lamps are counted", total, len(in.Lamps))
		}
		for i := range in.Lamps {
			l := &in.Lamps[i]
			k, want := l.Kind(in.AsOf), 1
			if k == Nothing || k == Missing && l.Silent > 0 {
				want = 0
			}
			if in1[l.Fixture] != want || silent[l.Fixture] != (l.Silent > 0) {
				t.Fatalf("%s (%s, silent %d) stands in %d actions, as silent: %v", l.Fixture, l.Status, l.Silent, in1[l.Fixture],
					silent[l.Fixture])
			}
		}
	})
}

// The lamps under one sensor ask one question: the step that most of them name; who
// is served better by another is named with it.
func TestASensorAsksOneQuestion(t *testing.T) {
	lamp := func(id, sensor, step string) Lamp {
		return Lamp{Fixture: id, Sensor: sensor, Settle: step, Status: forecast.StatusInseparable, Rival: forecast.RivalDrift}
	}
	list := List(Input{Lamps: []Lamp{lamp("A1", "S1", "clean"), lamp("A2", "S1", "recalibrate"), lamp("A3", "S1", "recalibrate"),
		lamp("B1", "S2", "recalibrate"), lamp("C1", "", "look"), lamp("C2", "", "look"), lamp("D1", "S3", "")}})
	want := []string{"recalibrate A1,A2,A3 ageing cannot be told from drift of the sensor; for A1 rather: clean",
		"recalibrate B1 ageing cannot be told from drift of the sensor",
		"look C1,C2 ageing cannot be told from drift of the sensor",
		" D1 ageing cannot be told from drift of the sensor"}
	dirty := lamp("A4", "S1", "clean")
	dirty.Rival = forecast.RivalDirt
	list = append(list, List(Input{Lamps: []Lamp{lamp("A1", "S1", "recalibrate"), dirty}})...)
	want = append(want, "recalibrate A1,A4 ageing cannot be told from drift of the sensor or from dirt; for A4 rather: clean")
	for i, a := range list {
		if got := a.Do + " " + strings.Join(a.Fixtures, ",") + " " + a.What; i >= len(want) || got != want[i] {
			t.Errorf("question %d: %q", i, got)
		}
	}
	if len(list) != len(want) {
		t.Errorf("%d questions, want %d", len(list), len(want))
	}
}

// A lamp without an answer is never one of which nothing need be done.
func TestUnknownIsNotNothing(t *testing.T) {
	for _, s := range everyStatus {
		l := Lamp{Status: s, Level: estimate.None("", ""), DueDay: estimate.None("", "")}
		answered := s == forecast.StatusForecast || s == forecast.StatusBeyond
		if k := l.Kind(20000); (k == Nothing) != answered {
			t.Errorf("%s is of kind %d", s, k)
		}
	}
}
