package forecast_test

import (
	"math"
	"sort"
	"strings"
	"testing"

	"wane/transform/forecast"
	"wane/transform/simfleet"
)

// steady is a small fleet, recalibrated and cleaned, with lamps in mid-life.
func steady() *forecast.Input {
	f := simfleet.New(simfleet.Options{Seed: 21, Fixtures: 40, Days: 1000, AllNew: true})
	in := f.Input
	in.Lamps = append([]forecast.Lamp(nil), in.Lamps...)
	for i := range in.Lamps {
		in.Lamps[i].Bins = append([]forecast.Bin(nil), in.Lamps[i].Bins...)
	}
	in.Groups = append([]forecast.Group(nil), in.Groups...)
	return &in
}

// dues gives the median due hours of every lamp's posterior, by lamp.
func dues(t *testing.T, in *forecast.Input) (map[int]float64, *forecast.Fit) {
	t.Helper()
	fit := run(t, in)
	out := map[int]float64{}
	for _, p := range fit.Posteriors() {
		out[p.Lamp] = p.Cross(p.Threshold, 0).Centre
	}
	return out, fit
}

// apart is the median relative change of the due hours of some lamps.
func apart(was, is map[int]float64, of func(int) bool) float64 {
	var d []float64
	for i, x := range was {
		if of(i) && x < 25000 && is[i] > 0 {
			d = append(d, math.Abs(math.Log(is[i]/x)))
		}
	}
	if len(d) == 0 {
		return math.NaN()
	}
	sort.Float64s(d)
	return d[len(d)/2]
}

// A sensor that was replaced by one that reads 5 % less, known to the register,
// leaves the due hours nearly where they were; taken for the old one it does not.
func TestAReplacedSensorIsNoAgeing(t *testing.T) {
	in := steady()
	was, _ := dues(t, in)
	swap := in.AsOf - 350
	group := in.Lamps[0].Group
	under := func(i int) bool { return in.Lamps[i].Group == group || len(in.Lamps[i].Watched) > 0 }
	for i := range in.Lamps {
		for k := range in.Lamps[i].Bins {
			if b := &in.Lamps[i].Bins[k]; in.Lamps[i].Group == group && b.Day > swap {
				b.LnOut -= .05
			}
		}
	}
	old := in.Groups[group].Recals
	var before, after []forecast.Recal
	for _, r := range old {
		if r.Day < swap {
			before = append(before, r)
		} else {
			r.AsFound *= math.Exp(-.05)
			after = append(after, r)
		}
	}
	in.Groups[group].Recals = before
	in.Groups = append(in.Groups, forecast.Group{ID: "new", Start: swap, Recals: after})
	for i := range in.Lamps {
		if l := &in.Lamps[i]; l.Group == group {
			l.Watched = []forecast.Watch{{From: l.StartDay, Group: group}, {From: swap, Group: len(in.Groups) - 1}}
			l.Group = len(in.Groups) - 1
		}
	}
	is, _ := dues(t, in)
	if d := apart(was, is, under); !(d < .10) {
		t.Errorf("the due hours under the replaced sensor changed by %.1f %%", 100*d)
	}
}

// Four fixtures hung elsewhere: the step of their readings is no ageing.
func TestAMovedFixtureIsNoAgeing(t *testing.T) {
	in := steady()
	was, _ := dues(t, in)
	day := in.AsOf - 400
	const to = 0
	moved := map[int]bool{}
	for i := 9; i < 13; i++ {
		l := &in.Lamps[i]
		moved[i] = true
		l.Watched = []forecast.Watch{{From: l.StartDay, Group: l.Group}, {From: day, Group: to}}
		l.Group = to
		l.Offsets = []forecast.Offset{{Day: day, Why: forecast.OffsetPlace}}
		for k := range l.Bins {
			if l.Bins[k].Day > day {
				l.Bins[k].LnOut += .12
			}
		}
	}
	is, _ := dues(t, in)
	if d := apart(was, is, func(i int) bool { return moved[i] }); !(d < .15) {
		t.Errorf("the due hours of moved fixtures changed by %.1f %%", 100*d)
	}
	if d := apart(was, is, func(i int) bool { return !moved[i] }); !(d < .03) {
		t.Errorf("and those of the others by %.1f %%", 100*d)
	}
}

// A step on one day under all sensors is one question, and until it is answered no
// lamp is weaker for it.
func TestAStepUnderAllSensorsIsAsked(t *testing.T) {
	in := steady()
	was, before := dues(t, in)
	day := in.AsOf - 265 // no set point changes near it
	for i := range in.Lamps {
		for k := range in.Lamps[i].Bins {
			if b := &in.Lamps[i].Bins[k]; b.Day > day {
				b.LnOut -= .08
			}
		}
	}
	is, fit := dues(t, in)
	if d := apart(was, is, func(int) bool { return true }); !(d < .10) {
		t.Errorf("the due hours changed by %.1f %%", 100*d)
	}
	asked, touched := 0, map[int]bool{}
	for _, s := range fit.Found().Steps {
		if s.Before <= day+7 && s.After >= day-7 {
			asked++
			for _, i := range s.Lamps {
				touched[i] = true
			}
			if s.Sensors < 2 || math.Abs(s.Size+.08) > .015 ||
				!strings.Contains(s.Question(), "supply, dimming, daylight or an outage") {
				t.Errorf("%+v: %s", s, s.Question())
			}
		}
	}
	if asked != 1 {
		t.Errorf("asked %d times about one step", asked)
	}
	if n := len(before.Found().Steps); n > 2 {
		t.Errorf("%d steps seen where none was", n)
	}
	for _, a := range fit.Answers(forecast.Asking{}) {
		if touched[a.Lamp] && a.Status == forecast.StatusForecast && !strings.Contains(a.Reason, "open question") {
			t.Errorf("a lamp that the step touches does not name it: %s", a.Reason)
		}
	}
	if 10*len(touched) < 9*len(was) {
		t.Errorf("%d of %d lamps were seen to step", len(touched), len(was))
	}
}

// A gain that was written upside down is noticed, and the readings followed.
func TestAnUpsideDownFactorIsNoticed(t *testing.T) {
	in := steady()
	const g, at = 2, 0 // no cleaning within weeks of it
	in.Groups[g].Recals = append([]forecast.Recal(nil), in.Groups[g].Recals...)
	r := &in.Groups[g].Recals[at]
	for i := range in.Lamps { // it drifted by 2 % more than it did
		for k := range in.Lamps[i].Bins {
			if b := &in.Lamps[i].Bins[k]; in.Lamps[i].Group == g && b.Day < r.Day {
				b.LnOut -= .02 * float64(b.Day-in.Groups[g].Start) / float64(r.Day-in.Groups[g].Start)
			}
		}
	}
	r.AsFound *= math.Exp(-.02)
	was, _ := dues(t, in)
	r.AsFound = 1 / r.AsFound
	is, fit := dues(t, in)
	found := false
	for _, d := range fit.Found().Doubts {
		found = found || d.Group == g && d.UpsideDown
	}
	if !found {
		t.Errorf("not asked about: %+v", fit.Found().Doubts)
	}
	if d := apart(was, is, func(i int) bool { return in.Lamps[i].Group == g }); !(d < .10) {
		t.Errorf("the due hours changed by %.1f %%", 100*d)
	}
}

// Where no drift was ever seen the answer is a range, and says what one
// recalibration would leave of it.
func TestNeverRecalibratedGivesARange(t *testing.T) {
	held, n := 0, 0
	for seed := uint64(701); seed <= 704; seed++ {
		f := simfleet.New(simfleet.Options{Seed: seed, Fixtures: 60, Days: 1200, NeverRecalibrated: true})
		for _, a := range run(t, &f.Input).Answers(forecast.Asking{}) {
			if a.Status != forecast.StatusInseparable || f.Truth[a.Lamp].Due > 60000 {
				continue
			}
			n++
			if !math.IsNaN(a.DueHours.Centre) || math.IsNaN(a.DueHours.Lo) || math.IsNaN(a.DueDay.Lo) {
				t.Fatalf("no range: %+v", a)
			}
			if a.DueHours.Lo <= f.Truth[a.Lamp].Due && f.Truth[a.Lamp].Due <= a.DueHours.Hi {
				held++
			}
			if !strings.Contains(a.Reason, "recalibration") && !strings.Contains(a.Reason, "cleaning") {
				t.Errorf("the reason says nothing of what would settle it: %s", a.Reason)
			}
		}
	}
	t.Logf("%d of %d ranges held", held, n)
	if n < 40 || 4*held < 3*n {
		t.Errorf("%d of %d ranges held", held, n)
	}
}

// In a room that nobody cleans the dirt is a guess, and the due hours are a range that
// reaches to a room without any. Where the room is declared to stay clean nothing is
// taken out, and the range is an answer.
func TestARoomThatStaysClean(t *testing.T) {
	in := steady()
	for i := range in.Lamps {
		in.Lamps[i].Cleanings = nil
	}
	ranges := map[int]forecast.Answer{}
	for _, a := range run(t, in).Answers(forecast.Asking{}) {
		if a.Dirt > 0 {
			ranges[a.Lamp] = a
		}
	}
	if len(ranges) < 10 {
		t.Fatalf("dirt matters to %d lamps only", len(ranges))
	}
	rooms := map[string]bool{}
	for i := range in.Lamps {
		if r := in.Lamps[i].Room; !rooms[r] {
			rooms[r] = true
			in.Clean = append(in.Clean, r)
		}
	}
	fit := run(t, in)
	for _, p := range fit.Posteriors() {
		if p.Dirt[0] > .006 {
			t.Errorf("%s: %.4f is taken for dirt in a room that stays clean", p.Fixture, p.Dirt[0])
		}
	}
	for _, a := range fit.Answers(forecast.Asking{}) {
		if a.Dirt != 0 {
			t.Errorf("lamp %d: still hangs on dirt by %.2f", a.Lamp, a.Dirt)
		}
		was, ok := ranges[a.Lamp]
		if ok && a.Status == forecast.StatusForecast {
			if !strings.Contains(a.Reason, "declared to stay clean") {
				t.Errorf("the declaration is not said: %s", a.Reason)
			}
			if was.DueHours.Lo > a.DueHours.Centre {
				t.Errorf("lamp %d: the range from %.0f h leaves out the answer of a clean room, %.0f h", a.Lamp, was.DueHours.Lo,
					a.DueHours.Centre)
			}
		}
	}
}

// Shade that grows over weeks and is taken away at once, time after time, is no ageing: no
// lamp is under for it, and the range reaches to what the lamps do without it.
func TestShadeThatComesAndGoesIsNoAgeing(t *testing.T) {
	in := steady()
	was, plain := dues(t, in)
	under := map[int]bool{}
	for _, a := range plain.Answers(forecast.Asking{}) {
		under[a.Lamp] = a.Status == forecast.StatusUnder
	}
	start := in.AsOf - 980
	for i := range in.Lamps {
		for k := range in.Lamps[i].Bins {
			b := &in.Lamps[i].Bins[k]
			b.LnOut -= .06 * float64((b.Day-start)%140) / 140
		}
	}
	fit := run(t, in)
	asked, held, n := 0, 0, 0
	for _, a := range fit.Answers(forecast.Asking{}) {
		if a.Status == forecast.StatusUnder && !under[a.Lamp] {
			t.Errorf("lamp %d is under by shade alone: %s", a.Lamp, a.Reason)
		}
		if strings.Contains(a.Reason, "step") {
			asked++
		}
		if math.IsNaN(a.DueHours.Lo) || was[a.Lamp] > 25000 {
			continue
		}
		n++
		if a.DueHours.Lo <= was[a.Lamp] && was[a.Lamp] <= a.DueHours.Hi {
			held++
		}
	}
	if 2*asked < len(was) {
		t.Errorf("%d of %d lamps name the step", asked, len(was))
	}
	if n < 10 || 10*held < 8*n {
		t.Errorf("%d of %d intervals hold what the lamps do without shade", held, n)
	}
}

// Sensors whose diffusers yellow three times as fast as usual are followed once their
// recalibrations say so.
func TestRecalibrationsOverruleTheAssumedDrift(t *testing.T) {
	in := steady()
	was, _ := dues(t, in)
	for g := range in.Groups {
		grp := &in.Groups[g]
		grp.Recals = append([]forecast.Recal(nil), grp.Recals...)
		from := grp.Start
		for k := range grp.Recals {
			r := &grp.Recals[k]
			if r.AsFound > 0 {
				r.AsFound *= math.Exp(-.03 * float64(r.Day-from) / 365.25)
			}
			from = r.Day
		}
	}
	for i := range in.Lamps {
		for k := range in.Lamps[i].Bins {
			b := &in.Lamps[i].Bins[k]
			from := in.Groups[in.Lamps[i].Group].Start
			for _, r := range in.Groups[in.Lamps[i].Group].Recals {
				if r.Day <= b.Day {
					from = r.Day
				}
			}
			b.LnOut -= .03 * float64(b.Day-from) / 365.25
		}
	}
	is, _ := dues(t, in)
	if d := apart(was, is, func(int) bool { return true }); !(d < .08) {
		t.Errorf("the due hours changed by %.1f %%", 100*d)
	}
}

// Lamps that fade half as fast as assumed contradict the assumption as early as those do
// that fade twice as fast, and are followed.
func TestSlowLampsOverruleTheAssumedFade(t *testing.T) {
	in := steady()
	in.AsOf -= 550
	was, _ := dues(t, in)
	in.Defaults = forecast.DefaultTable()
	for name, c := range in.Defaults.Classes {
		c.Slope.Mean, c.Slope.SD = 2*c.Slope.Mean, 2*c.Slope.SD
		in.Defaults.Classes[name] = c
	}
	is, _ := dues(t, in)
	if d := apart(was, is, func(i int) bool { return in.Lamps[i].Class != forecast.LED }); !(d < .08) {
		t.Errorf("the due hours changed by %.1f %%", 100*d)
	}
}
