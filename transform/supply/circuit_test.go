package supply

import (
	"math"
	"strings"
	"testing"
	"time"
)

func counted(v float64) Histogram {
	var c Counter
	for month := 1; month <= 12; month++ {
		for hour := range 24 {
			c.Add(month, hour, int64(math.Floor(v/Width)), 30)
		}
	}
	return Histogram{Bins: c.Bins(), PerHour: 1}
}

func TestMostFixturesSayWhatIsRegistered(t *testing.T) {
	v, others := Registered([]float64{240, 0, 208, 240, 277, 208, 240})
	if v != 240 || len(others) != 2 || others[0] != 208 || others[1] != 277 {
		t.Errorf("%v, others %v", v, others)
	}
	if v, _ := Registered([]float64{240, 208}); v != 208 {
		t.Errorf("of equals the lower: %v", v)
	}
	if v, others := Registered([]float64{0, 0}); v != 0 || others != nil {
		t.Errorf("none known: %v, %v", v, others)
	}
}

// A circuit registered as 240 V that reads 209 V is held against the register's
// range and against that of the service found; one without a register against
// the found one alone.
func TestJudgeHoldsAgainstWhatIsRegisteredAndFound(t *testing.T) {
	c, err := Judge("C", 240, counted(209), false)
	if err != nil || c.Why != "" || c.Finding.Agrees || c.Nominal != 208 || c.Seen == nil {
		t.Fatalf("%+v, %v", c, err)
	}
	whole, _ := c.Profile.Whole()
	seen, _ := c.Seen.Whole()
	if whole.Below.Centre != 1 || seen.Below.Centre != 0 || c.Profile.Range.Min != 228 && c.Profile.Range.Min != 216 {
		t.Errorf("outside the registered range %v, the found one %v", whole.Below.Centre, seen.Below.Centre)
	}
	if c, err = Judge("C", 0, counted(209), false); err != nil || c.Seen == nil || c.Profile.Range != c.Seen.Range {
		t.Errorf("nothing registered: %+v, %v", c.Profile.Range, err)
	}
	if c, err = Judge("C", 208, counted(209), false); err != nil || c.Seen != nil || !c.Finding.Agrees {
		t.Errorf("as registered: %+v, %v", c.Finding.Words, err)
	}
	if c, err = Judge("C", 0, counted(160), false); err != nil || c.Nominal < 159 || c.Nominal > 161 {
		t.Errorf("no service known: nominal %v, %v", c.Nominal, err)
	}
	if c, err = Judge("C", 240, counted(0), false); err != nil || !strings.Contains(c.Why, "reads 0 V") {
		t.Errorf("dead: %q, %v", c.Why, err)
	}
	if _, err = Judge("C", 240, Histogram{Bins: []Bin{{13, 0, 240, 1}}}, false); err == nil {
		t.Error("a thirteenth month was judged")
	}
}

func TestUsualInterval(t *testing.T) {
	for _, c := range []struct {
		hours []int64
		want  time.Duration
	}{{[]int64{60, 60, 12}, time.Minute}, {[]int64{4, 4, 4, 1}, 15 * time.Minute}, {[]int64{7}, 514 * time.Second},
		{[]int64{1, 1}, 0}, {nil, 0}} {
		if got, ok := UsualInterval(c.hours); got != c.want || ok != (c.want > 0) {
			t.Errorf("%v: %v, %v", c.hours, got, ok)
		}
	}
}

// With a coefficient of 1.5 and a voltage that fell by 5 %, (0.95)^1.5 of the
// output is the supply's; what is left of a fall to 0.85 is the lamp's.
func TestOnLampPartsSupplyAndRest(t *testing.T) {
	days := make([]LampDay, 60)
	for i := range days {
		scatter := 1 + .001*math.Sin(float64(7*i))
		days[i] = LampDay{Output: 800 * scatter, V: 240 * scatter}
		if i >= 30 {
			days[i] = LampDay{Output: 800 * .85 * scatter, V: 228 * scatter}
		}
	}
	e := OnLamp(days, Declared(1.5, .01), 240)
	if want := math.Pow(.95, 1.5); math.Abs(e.Supply.Centre-want) > 1e-3 || math.Abs(e.Rest.Centre-.85/want) > 1e-3 {
		t.Errorf("supply %.4f of %.4f, rest %.4f", e.Supply.Centre, want, e.Rest.Centre)
	}
	if e.Change.Lo > .85 || e.Change.Hi < .85 || e.Change.N != 28 {
		t.Errorf("change %+v", e.Change)
	}
	if math.Abs(e.AtRated.Centre-math.Pow(.95, 1.5)) > 1e-3 {
		t.Errorf("at the rated voltage %+v", e.AtRated)
	}
	if e := OnLamp(days[:27], Declared(1.5, .01), 240); e.Supply.Known() ||
		!strings.HasPrefix(e.Words, "27 days with both") {
		t.Errorf("27 days: %+v", e.Share)
	}
	if e := OnLamp(days, Declared(1.5, .01), 0); e.AtRated.Known() {
		t.Error("an output at a rated voltage that nobody knows")
	}
	if e := OnLamp(days, Declared(1.5, .01), 277); len(e.AtRated.Warnings) != 1 {
		t.Errorf("far from rated: %v", e.AtRated.Warnings)
	}
}

func TestUnbalanceLeavesDeadHoursOut(t *testing.T) {
	hours := [][3]float64{{0, 400, 400}}
	for range 40 {
		hours = append(hours, [3]float64{396, 400, 404})
	}
	u := UnbalanceOf(hours)
	if u.Hours != 40 || math.Abs(u.Median.Centre-1) > 1e-9 || u.P95.N != 40 || u.Why != "" {
		t.Errorf("%+v", u)
	}
	if u := UnbalanceOf(hours[:1]); u.Hours != 0 || u.Why == "" {
		t.Errorf("only a dead hour: %+v", u)
	}
	if u := UnbalanceOf([][3]float64{{100, 100, 300}}); u.Negative.Known() ||
		!strings.Contains(u.Negative.Warnings[0], "no triangle") {
		t.Errorf("no triangle: %+v", u.Negative)
	}
}
