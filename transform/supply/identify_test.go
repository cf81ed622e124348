package supply

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// day makes a year of readings whose hourly middle is given.
func day(mid func(hour int) float64, sd float64) Profile {
	r := rand.New(rand.NewPCG(8, 8))
	var c Counter
	for m := 1; m <= 12; m++ {
		for h := 0; h < 24; h++ {
			for i := 0; i < 30; i++ {
				c.Add(m, h, int64(math.Floor((mid(h)+sd*r.NormFloat64())/Width)), 1)
			}
		}
	}
	p, err := Profiled(Histogram{Bins: c.Bins()}, Limit{Min: 216, Max: 252}, Options{})
	if err != nil {
		panic(err)
	}
	return p
}

func flatDay(v float64) Profile { return day(func(int) float64 { return v }, 1.5) }

// A line thought to be 240 V that reads 205 to 215 V through the day is a
// 208Y/120 service (common practice, no source).
func Test240ThatReads210IsA208Service(t *testing.T) {
	p := day(func(h int) float64 { return 210 + 5*math.Cos(2*math.Pi*float64(h)/24) }, 1)
	f, err := Identify(Input{Circuit: "C3", Registered: 240, Profile: p})
	if err != nil {
		t.Fatal(err)
	}
	if f.Best.Service != Wye208 || f.Best.Between != "line to line" || f.Agrees || f.Best.Weight < .7 {
		t.Errorf("got %+v", f.Best)
	}
	for _, w := range []string{"registered as 240 V", "205 to 215 V through the day", "208Y/120",
		"does not come back to 240 V at any hour"} {
		if !strings.Contains(f.Words, w) {
			t.Errorf("%q lacks %q", f.Words, w)
		}
	}
	if !strings.Contains(strings.Join(f.Settles, "\n"), "high leg") ||
		!strings.Contains(strings.Join(f.Settles, "\n"), "lights off") ||
		!strings.Contains(f.Caution, "licensed electrician") {
		t.Errorf("got %v", f.Settles)
	}
	if len(f.Alternatives) == 0 || f.Alternatives[0].Service != HighLeg {
		t.Errorf("a high leg to neutral reads the same: %+v", f.Alternatives)
	}
	w, _ := p.Whole()
	if w.Below.Centre < .9 {
		t.Errorf("nearly all is under 216 V: %+v", w.Below)
	}
}

// A 240 V line that sags by day is still a 240 V line.
func TestASaggingLineComesBackByNight(t *testing.T) {
	p := day(func(h int) float64 {
		if h >= 8 && h < 18 {
			return 222
		}
		return 238
	}, 1)
	f, err := Identify(Input{Circuit: "C4", Registered: 240, Profile: p})
	if err != nil || f.Best.Nominal != 240 || !f.Agrees {
		t.Errorf("got %+v %v", f.Best, err)
	}
}

func TestEveryServiceIsFoundAtItsNominal(t *testing.T) {
	for _, c := range Connections() {
		f, err := Identify(Input{Circuit: "C", Registered: c.Nominal, Profile: flatDay(c.Nominal * 1.005)})
		if err != nil || !sameNominal(f.Best.Nominal, c.Nominal) || !f.Agrees || f.Confidence == "none" {
			t.Errorf("%s: got %s, %v", c.Label(), f.Best.Label(), err)
		}
		found := f.Best.Service == c.Service
		for _, a := range f.Alternatives {
			found = found || a.Service == c.Service && sameNominal(a.Nominal, c.Nominal)
		}
		if !found {
			t.Errorf("%s is not even an alternative: %+v", c.Label(), f.Alternatives)
		}
		sum := f.Best.Weight
		for _, a := range f.Alternatives {
			sum += a.Weight
		}
		if sum < .7 || sum > 1+1e-9 {
			t.Errorf("%s: weights sum to %v", c.Label(), sum)
		}
	}
}

func TestServicesThatOneVoltageCannotTellApart(t *testing.T) {
	p := flatDay(120.5)
	f, err := Identify(Input{Circuit: "C", Profile: p})
	if err != nil || f.Confidence != "weak" || !strings.Contains(strings.Join(f.Settles, " "), "line to line: 208 V") {
		t.Errorf("120 V alone is 208Y/120 or split phase: %s, %v", f.Confidence, f.Settles)
	}
}

func TestIdentifyRefusals(t *testing.T) {
	if _, err := Identify(Input{Circuit: "C"}); err == nil || !strings.Contains(err.Error(), "no voltage readings") {
		t.Errorf("got %v", err)
	}
	if _, err := Identify(Input{Circuit: "C", Profile: flatDay(120), Registered: math.NaN()}); err == nil {
		t.Error("NaN in the register")
	}
	f, err := Identify(Input{Circuit: "C", Profile: flatDay(160), Registered: 240})
	if err != nil || f.Confidence != "none" || !strings.Contains(f.Words, "check the sensor's factor") {
		t.Errorf("160 V is no service: %s, %v", f.Words, err)
	}
	f, err = Identify(Input{Circuit: "C", Profile: flatDay(241), Registered: 208})
	if err != nil || f.Agrees || !strings.Contains(f.Words, "does not raise it") {
		t.Errorf("got %s, %v", f.Words, err)
	}
}
