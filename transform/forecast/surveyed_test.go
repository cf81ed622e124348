package forecast

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"strings"
	"testing"
)

// lab is an invented test lab with its truth. Its lamps age by a law of their
// own (a stretched exponential), not by the fit's.
type lab struct {
	in  SurveyInput
	due []float64                 // true run-hours at the threshold, +Inf: not before the horizon
	out []func(h float64) float64 // true level
}

var labTypes = []struct {
	class, gear  string
	loss, bend   float64 // ln loss in 10^4 h, power of hours
	early        float64
	supply, size float64 // true % per %, its spread
}{
	{LED, Driver, .032, 1.0, .004, .05, .04},
	{HPSDE, Electronic, .09, 1.1, -.006, .05, .04},
	{HPSSE, Magnetic, .13, 1.1, -.01, 1.5, .3},
	{CMH, Electronic, .12, .95, -.03, .05, .04},
}

func inventLab(seed uint64) lab {
	r := rand.New(rand.NewPCG(seed, 7))
	var l lab
	nf, ns := 3+r.IntN(10), 3+r.IntN(6)
	years := 1 + 2*r.Float64()
	drift, reference := (r.Float64()*2-1)*.03, r.IntN(2) == 0
	in := &l.in
	in.AsOf = 20000 + int(years*365)
	var rig []float64
	low := make([]bool, ns) // a day on 208 V instead of 240
	for v := range ns {
		day := 20000 + int(years*365*float64(v)/float64(ns-1))
		in.Visits = append(in.Visits, RigVisit{Day: day})
		rig = append(rig, drift*float64(day-20000)/365.25+.007*r.NormFloat64())
		low[v] = r.Float64() < .2
		if reference {
			in.Checks = append(in.Checks, RigCheck{Visit: v, Fixture: "REF", Ln: 6 + rig[v] + .0055*r.NormFloat64(), SD: .006})
		}
	}
	kinds := 1 + r.IntN(2)
	for f := range nf {
		k := labTypes[(int(seed)+f%kinds)%len(labTypes)]
		loss := k.loss * math.Exp(.3*r.NormFloat64()) * math.Exp(.15*r.NormFloat64())
		bend := k.bend + .1*r.NormFloat64()
		early := k.early + math.Abs(k.early)*.3*r.NormFloat64()
		out := func(h float64) float64 {
			g := func(h float64) float64 {
				return -loss*math.Pow(h/1e4, bend) - early*math.Exp(-h/700)
			}
			return math.Exp(g(max(h, Seasoning)) - g(Seasoning))
		}
		l.out = append(l.out, out)
		threshold := .9
		due := math.Inf(1)
		for h := 100.0; h < horizon; h += 20 {
			if out(h) <= threshold {
				due = h
				break
			}
		}
		l.due = append(l.due, due)
		perDay := 10 + 8*r.Float64()
		coef := k.supply + k.size*r.NormFloat64()
		lamp := SurveyedLamp{Lamp: Lamp{Fixture: fmt.Sprintf("L%d", f), Life: 1, Class: k.class, Gear: k.gear,
			Lot:       fmt.Sprintf("%s-%d", k.class, f%2),
			Threshold: threshold, Burn: Burn{PerDay: perDay, Days: 365}, HoursNow: 120 + perDay*float64(in.AsOf-20000)}}
		for v := range ns {
			h := 120 + perDay*float64(in.Visits[v].Day-20000)
			s := Sighting{Visit: v, Hours: h, HasSupply: true, SD: .006}
			if low[v] {
				s.Supply = math.Log(208.0 / 240)
			}
			s.Ln = 6 + math.Log(out(h)) + rig[v] + coef*s.Supply + .0055*r.NormFloat64()
			lamp.Surveys = append(lamp.Surveys, s)
		}
		in.Lamps = append(in.Lamps, lamp)
	}
	return l
}

// Forty invented labs: what the intervals hold, and how far off the dates are.
func TestSurveyedLabs(t *testing.T) {
	const first = 4100
	hold, n, bound, bounds, early := 0, 0, 0, 0, 0
	var errs []float64
	claims, right := 0, 0
	for seed := range uint64(40) {
		l := inventLab(first + seed)
		f, err := FitSurveys(&l.in)
		if err != nil {
			t.Fatal(err)
		}
		for i, a := range f.Answers(Asking{}) {
			due := l.due[i]
			switch a.Status {
			case StatusForecast, StatusUnder:
				n++
				if a.DueHours.Lo <= due && due <= a.DueHours.Hi {
					hold++
				}
				errs = append(errs, math.Abs(math.Min(a.DueHours.Centre, horizon)/math.Min(due, horizon)-1))
			case StatusBeyond:
				bounds++
				if a.DueHours.Lo <= due {
					bound++
				}
			default:
				early++
			}
		}
		c, ok := claimed(t, &l, f)
		claims, right = claims+c, right+ok
	}
	sort.Float64s(errs)
	t.Logf("%d dates, %.0f %% of 80 %% intervals hold, median error %.3f; %d bounds, %.0f %% hold; %d without; %d claims of an order, %.0f %% true",
		n, 100*float64(hold)/float64(n), errs[len(errs)/2], bounds, 100*float64(bound)/float64(bounds), early, claims,
		100*float64(right)/float64(claims))
	if h := float64(hold) / float64(n); h < .75 || h > .92 || n < 60 {
		t.Errorf("of %d intervals that claim 80 %%, %.0f %% hold", n, 100*h)
	}
	if h := float64(right) / float64(claims); h < .85 || claims < 40 {
		t.Errorf("of %d claims to know which of two holds up better, 90 %% sure, %.0f %% are true", claims, 100*h)
	}
	if h := float64(bound) / float64(bounds); h < .8 {
		t.Errorf("of %d lower bounds %.0f %% hold", bounds, 100*h)
	}
}

// claimed counts the pairs of which the fit says, 90 % sure, which holds up better
// 10,000 h from now, and of them those it is right about.
func claimed(t *testing.T, l *lab, f *SurveyFit) (claims, right int) {
	for i := range l.out {
		for j := range i {
			h := max(l.in.Lamps[i].HoursNow, l.in.Lamps[j].HoursNow) + 10000
			c, ok := f.Compare(i, j, []float64{h}, .8)
			if !ok {
				t.Fatal("not compared")
			}
			better := l.out[i](h) > l.out[j](h)
			if p := c[0].First; p >= .9 || p <= .1 {
				claims++
				if (p >= .9) == better {
					right++
				}
			}
		}
	}
	return claims, right
}

// The fit is the dense solution of the model it states: with one lamp and two
// surveys its estimate of the slope is the conjugate one.
func TestSurveyedFitIsExact(t *testing.T) {
	d := DefaultTable()
	law := d.Classes[LED]
	law.Shape.SD, law.ShapeLot, law.ShapeLamp = 1e-5, 1e-5, 1e-5
	law.Early.SD, law.Early.Mean, law.EarlyLot, law.EarlyLamp = 1e-5, 0, 1e-5, 1e-5
	law.Shape.Mean, law.Wander = 0, 1e-4
	d.Classes[LED] = law
	in := SurveyInput{AsOf: 20365, Visits: []RigVisit{{Day: 20000}, {Day: 20365}}, Defaults: d,
		Rig: RigDefaults{Drift: Prior{0, 1e-5, ""}, Visit: 1e-5, Fresh: .03},
		Lamps: []SurveyedLamp{{Lamp: Lamp{Fixture: "A", Class: LED, Gear: Driver, Threshold: .9, HoursNow: 5100},
			Surveys: []Sighting{{Visit: 0, Hours: 100, Ln: 6, SD: .01}, {Visit: 1, Hours: 5100, Ln: 5.985, SD: .01}}}}}
	f, err := FitSurveys(&in)
	if err != nil {
		t.Fatal(err)
	}
	// y2 - y1 = -S (x2 - x1) + noise of spread .01 sqrt 2; the scale is free
	m, v := law.Slope.Mean, math.Pow(law.Slope.SD, 2)+math.Pow(law.SlopeLot*law.Slope.Mean, 2)+
		math.Pow(law.SlopeLamp*law.Slope.Mean, 2)
	w, x := 1/(2*.01*.01), .5
	want := (m/v + w*x*.015) / (1/v + w*x*x)
	sd := math.Sqrt(1 / (1/v + w*x*x))
	p := f.Posteriors()[0]
	if math.Abs(p.Mean[0]-want) > 1e-4*want || math.Abs(math.Sqrt(p.Cov[0])-sd) > 1e-2*sd { // spreads given as shares follow the slope found
		t.Errorf("slope %.7f (%.7f), want %.7f (%.7f)", p.Mean[0], math.Sqrt(p.Cov[0]), want, sd)
	}
}

func TestSurveyedWords(t *testing.T) {
	l := inventLab(4200)
	in := l.in
	in.Lamps = in.Lamps[:1]
	for n, want := range map[int]string{1: "one canopy survey: a second gives a bound",
		2: "two give a bound, a third a date"} {
		in := in
		lamp := in.Lamps[0]
		lamp.Surveys = lamp.Surveys[:n]
		lamp.HoursNow = lamp.Surveys[n-1].Hours
		in.Lamps = []SurveyedLamp{lamp}
		f, err := FitSurveys(&in)
		if err != nil {
			t.Fatal(err)
		}
		a := f.Answers(Asking{})[0]
		if !strings.Contains(a.Reason, want) || a.Status == StatusForecast {
			t.Errorf("%d surveys: %s: %s", n, a.Status, a.Reason)
		}
	}
	in.Lamps[0].Surveys = nil
	f, err := FitSurveys(&in)
	if err != nil {
		t.Fatal(err)
	}
	if a := f.Answers(Asking{})[0]; a.Status != StatusNoData || a.Reason != "neither logged nor surveyed" {
		t.Errorf("%s: %s", a.Status, a.Reason)
	}
}

// Lamps that fade two, five and eight times as fast as is assumed of their type, read six
// times with a reference fixture: what was read is believed.
func TestSurveysOverruleWhatIsAssumed(t *testing.T) {
	in := SurveyInput{AsOf: 20000 + 950}
	slopes := []float64{.05, .14, .22}
	for k := range slopes {
		in.Lamps = append(in.Lamps, SurveyedLamp{Lamp: Lamp{Fixture: fmt.Sprintf("L%d", k), Life: 1, Class: LED, Gear: Driver,
			Lot:       fmt.Sprint(k),
			Threshold: .9, Burn: Burn{PerDay: 16, Days: 365}, HoursNow: 15200}})
	}
	for v := range 6 {
		hours := 3040 * float64(v)
		rig := -.006 * float64(v)
		in.Visits = append(in.Visits, RigVisit{Day: 20000 + 190*v})
		in.Checks = append(in.Checks, RigCheck{Visit: v, Fixture: "REF", Ln: 6 + rig, SD: .006})
		for k, s := range slopes {
			in.Lamps[k].Surveys = append(in.Lamps[k].Surveys,
				Sighting{Visit: v, Hours: hours, Ln: 6 - s*hours/1e4 + rig, SD: .006})
		}
	}
	f, err := FitSurveys(&in)
	if err != nil {
		t.Fatal(err)
	}
	for k, a := range f.Answers(Asking{}) {
		want := math.Exp(-slopes[k] * (15200 - Seasoning) / 1e4)
		if math.Abs(a.Level.Centre-want) > .006 || a.Level.Lo > want || a.Level.Hi < want {
			t.Errorf("%s: level %.3f (%.3f to %.3f), want %.3f", in.Lamps[k].Fixture, a.Level.Centre, a.Level.Lo, a.Level.Hi,
				want)
		}
	}
}

// How sure an answer is by the number of its surveys, on invented labs of their
// own: each number's intervals hold about as often as they say, two give a bound
// only, and more surveys never give a wider interval on the whole.
func TestSurveyedLabsByNumberOfSurveys(t *testing.T) {
	const first, labs = 9500, 80
	type cell struct {
		n, hold, bounds, boundHold int
		errs, width                []float64
	}
	groups := []struct {
		name   string
		lo, hi int
		cell
	}{{name: "2", lo: 2, hi: 2}, {name: "3", lo: 3, hi: 3}, {name: "4 to 5", lo: 4, hi: 5}, {name: "6 to 8", lo: 6, hi: 8}}
	for seed := range uint64(labs) {
		l := inventLab(first + seed)
		for g := range groups {
			in, ok := l.cut(groups[g].lo, groups[g].hi)
			if !ok {
				continue
			}
			f, err := FitSurveys(&in)
			if err != nil {
				t.Fatal(err)
			}
			c := &groups[g].cell
			for i, a := range f.Answers(Asking{}) {
				due := l.due[i]
				switch a.Status {
				case StatusForecast, StatusUnder:
					if len(in.Lamps[i].Surveys) < surveysForDate && a.Status == StatusForecast {
						t.Errorf("seed %d, lamp %d: a date ahead from two surveys", seed, i)
					}
					c.n++
					if a.DueHours.Lo <= due && due <= a.DueHours.Hi {
						c.hold++
					}
					c.errs = append(c.errs, math.Abs(math.Min(a.DueHours.Centre, horizon)/math.Min(due, horizon)-1))
					c.width = append(c.width, math.Log(math.Min(a.DueHours.Hi, horizon)/a.DueHours.Lo))
				case StatusBeyond:
					c.bounds++
					if a.DueHours.Lo <= due {
						c.boundHold++
					}
				}
			}
		}
	}
	share := func(k, n int) float64 { return 100 * float64(k) / float64(max(n, 1)) }
	before := math.Inf(1)
	for _, g := range groups {
		if g.n == 0 {
			t.Logf("%s surveys: no dates; %d bounds, %.0f %% hold", g.name, g.bounds, share(g.boundHold, g.bounds))
		} else {
			sort.Float64s(g.errs)
			sort.Float64s(g.width)
			width := g.width[len(g.width)/2]
			t.Logf("%s surveys: %d dates, %.0f %% of 80 %% intervals hold, median error %.3f, median width %.2f; %d bounds, %.0f %% hold",
				g.name, g.n, share(g.hold, g.n), g.errs[len(g.errs)/2], width, g.bounds, share(g.boundHold, g.bounds))
			if h := share(g.hold, g.n); g.n >= 100 && (h < 75 || h > 92) {
				t.Errorf("%s surveys: of %d intervals that claim 80 %%, %.0f %% hold", g.name, g.n, h)
			}
			if width > before*1.05 {
				t.Errorf("%s surveys: intervals are wider (%.2f) than with fewer surveys (%.2f)", g.name, width, before)
			}
			if g.lo >= surveysForDate { // before, only what is under already has a date
				before = width
			}
		}
		if h := share(g.boundHold, g.bounds); g.bounds >= 50 && h < 80 {
			t.Errorf("%s surveys: of %d lower bounds %.0f %% hold", g.name, g.bounds, h)
		}
	}
}

// cut gives the lab as it was when so many visits had been made, the most that
// lies within the range; ok is false where it never was.
func (l *lab) cut(lo, hi int) (SurveyInput, bool) {
	n := min(hi, len(l.in.Visits))
	if n < lo {
		return SurveyInput{}, false
	}
	in := l.in
	in.AsOf = in.Visits[n-1].Day
	in.Visits = in.Visits[:n]
	in.Checks = nil
	for _, c := range l.in.Checks {
		if c.Visit < n {
			in.Checks = append(in.Checks, c)
		}
	}
	in.Lamps = nil
	for _, x := range l.in.Lamps {
		x.Surveys = x.Surveys[:n]
		x.HoursNow = x.Surveys[n-1].Hours
		in.Lamps = append(in.Lamps, x)
	}
	return in, true
}

// A lamp of a type of which none was surveyed is in the input, and says so.
func TestUnsurveyedTypeBesideSurveyed(t *testing.T) {
	in := inventLab(4201).in
	in.Lamps = append(in.Lamps, SurveyedLamp{Lamp: Lamp{Fixture: "NEW", Life: 1, Class: Fluorescent, Gear: Magnetic, Lot: "n",
		Threshold: .9, Burn: Burn{PerDay: 12, Days: 365}, HoursNow: 900}})
	f, err := FitSurveys(&in)
	if err != nil {
		t.Fatal(err)
	}
	a := f.Answers(Asking{})
	if last := a[len(a)-1]; last.Status != StatusNoData || last.Reason != "neither logged nor surveyed" {
		t.Errorf("%s: %s", last.Status, last.Reason)
	}
}
