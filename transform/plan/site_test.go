package plan

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"wane/transform/estimate"
)

var asOf = time.Date(2027, 3, 1, 9, 30, 0, 0, time.UTC)

func num(x float64) *float64 { return &x }

func exact(x float64) estimate.Estimate {
	return estimate.Estimate{Centre: x, Lo: x, Hi: x, Level: 0.8, N: 1, Method: "test"}
}

func unknown() estimate.Estimate { return estimate.None("test", "not measured") }

// site is an invented site with every input given: three rooms of eight lamps
// of rising age.
func site() Input {
	in := Input{AsOf: asOf, Seed: 1, Settings: Settings{
		Currency: "EUR",
		Site: Terms{
			LampPrice: num(75), GearPrice: num(120), LabourSpotMin: num(15), LabourGroupMin: num(7), LabourGearMin: num(40),
			WagePerHour:  num(32),
			LiftPerVisit: num(140), DisposalPerLamp: num(1.5), CleanPerFixture: num(2), CleanPerRoom: num(60),
			EnergyPrice:     num(0.2),
			CropValueM2Year: num(200), CropGroup: "fruit vegetables", LampShare: num(0.4), LeadLampDays: num(21),
			LeadGearDays: num(35),
			Work:         []Window{{Weekdays: []string{"mon", "tue", "wed", "thu", "fri"}}},
		},
		Stock: map[string]Stock{"hps-de": {Lamps: 2}},
	}}
	for r, hours := range []float64{3000, 8000, 12000} {
		room := string(rune('A' + r))
		in.Rooms = append(in.Rooms, Room{Name: room, LastCleaned: asOf.AddDate(0, -5, 0)})
		for i := 0; i < 8; i++ {
			h := hours + 40*float64(i)
			due := 12000 + 250*float64(i)
			status := "forecast"
			if h > due {
				status = "under"
			}
			in.Lamps = append(in.Lamps, Lamp{
				Fixture: fmt.Sprintf("%s%02d", room, i), Life: 1, Room: room, Bay: fmt.Sprint(1 + i/4), LampType: "hps-de",
				Gear: "electronic", Cohort: "c1",
				HoursNow: h, BurnPerDay: 10, Threshold: 0.9, Level: exact(1 - 0.1*h/due - 0.01), Status: status,
				Due:       Due{Hours: due, LoHours: due * 0.85, HiHours: due * 1.2, Interval: 0.8},
				DeclineKh: unknown(), DirtShare: exact(0.01 / (0.1*h/due + 0.01)),
				Hazard: Weibull{Eta: estimate.Estimate{Centre: 26000, Lo: 22000, Hi: 31000, Level: 0.8, N: 40}, Beta: 3},
				PPFD:   200, Area: 8.5, PowerW: 1040, RatedW: 1050,
			})
		}
	}
	return in
}

func lampOf(t *testing.T, r Result, fixture string) LampPlan {
	t.Helper()
	for _, l := range r.Lamps {
		if l.Fixture == fixture {
			return l
		}
	}
	t.Fatalf("no plan for %s", fixture)
	return LampPlan{}
}

func has(list []string, words string) bool { return strings.Contains(strings.Join(list, "\n"), words) }

// sound fails on any NaN or Inf outside an Estimate, and on an empty reason.
func sound(t interface{ Fatalf(string, ...any) }, r Result) {
	var walk func(v reflect.Value, path string)
	walk = func(v reflect.Value, path string) {
		switch v.Kind() {
		case reflect.Float64:
			if f := v.Float(); math.IsNaN(f) || math.IsInf(f, 0) {
				t.Fatalf("%s is %g", path, f)
			}
		case reflect.Slice:
			for i := 0; i < v.Len(); i++ {
				walk(v.Index(i), fmt.Sprintf("%s[%d]", path, i))
			}
		case reflect.Struct:
			if v.Type() == reflect.TypeOf(estimate.Estimate{}) || v.Type() == reflect.TypeOf(time.Time{}) {
				return
			}
			for i := 0; i < v.NumField(); i++ {
				walk(v.Field(i), path+"."+v.Type().Field(i).Name)
			}
		}
	}
	walk(reflect.ValueOf(r), "result")
	for _, l := range r.Lamps {
		if len(l.Reasons) == 0 || l.Reasons[0] == "" {
			t.Fatalf("%s: %s without a reason", l.Fixture, l.Decision)
		}
	}
}
