package forecast_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"wane/transform/forecast"
	"wane/transform/simfleet"
)

// near is a comparison of answers to one part in so many.
func near(a, b, rel float64) bool {
	return same(a, b) || math.IsInf(a, 1) && math.IsInf(b, 1) || math.Abs(a-b) <= rel*max(1, math.Abs(a), math.Abs(b))
}

// sameAnswers holds the answers of two fits of one input against each other.
func sameAnswers(t *testing.T, a, b *forecast.Fit, rel float64) {
	t.Helper()
	x, y := a.Answers(forecast.Asking{}), b.Answers(forecast.Asking{})
	if len(x) != len(y) || len(x) == 0 {
		t.Fatalf("%d answers, %d", len(x), len(y))
	}
	for i := range x {
		p, q := &x[i], &y[i]
		if p.Status != q.Status || p.Reason != q.Reason || !near(p.DueHours.Centre, q.DueHours.Centre, rel) ||
			!near(p.DueHours.Lo, q.DueHours.Lo, rel) || !near(p.DueHours.Hi, q.DueHours.Hi, rel) ||
			!near(p.Level.Centre, q.Level.Centre, rel) || !near(p.DueDay.Hi, q.DueDay.Hi, rel) {
			t.Errorf("lamp %d: %s %v %q, %s %v %q", p.Lamp, p.Status, p.DueHours, p.Reason, q.Status, q.DueHours, q.Reason)
		}
	}
}

func opener(ins ...*forecast.Input) forecast.Sites {
	return forecast.Sites{N: len(ins), Open: func(i int) (*forecast.Input, error) { return ins[i], nil }}
}

func pooled(t testing.TB, ins ...*forecast.Input) []*forecast.Fit {
	t.Helper()
	out := make([]*forecast.Fit, len(ins))
	_, err := forecast.RunPool(opener(ins...), func(i int, f *forecast.Fit) error { out[i] = f; return nil })
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// A group of one site says what the site says alone, rooms that nobody ever cleaned
// among them.
func TestPoolOfOneSiteIsTheSite(t *testing.T) {
	for _, seed := range []uint64{3, 6} {
		in := small(seed).Input
		sameAnswers(t, run(t, &in), pooled(t, &in)[0], 1e-9)
	}
	everyday := small(8).Input
	for i := range everyday.Lamps {
		everyday.Lamps[i].Cleanings = nil
	}
	sameAnswers(t, run(t, &everyday), pooled(t, &everyday)[0], 1e-9)
}

// The order in which sites come changes no bit of any answer.
func TestPoolOrderChangesNoBit(t *testing.T) {
	var ins []*forecast.Input
	for seed := range uint64(4) {
		in := small(20 + seed).Input
		for i := range in.Lamps {
			in.Lamps[i].Make = "make of " + in.Lamps[i].Class
		}
		ins = append(ins, &in)
	}
	want := pooled(t, ins...)
	order := rand.New(rand.NewPCG(1, 2)).Perm(len(ins))
	var other []*forecast.Input
	for _, k := range order {
		other = append(other, ins[k])
	}
	for i, f := range pooled(t, other...) {
		sameAnswers(t, want[order[i]], f, 0)
	}
}

// laboratory is a fleet whose disturbances are known: with nothing that sites have to
// themselves, the fit of several is the fit of one that has all their lamps.
func laboratory(seed uint64, site string) *forecast.Input {
	in := simfleet.New(simfleet.Options{Seed: seed, Fixtures: 30, Days: 900, AllNew: true}).Known
	for i := range in.Lamps {
		in.Lamps[i].Room, in.Lamps[i].Lot = site+" "+in.Lamps[i].Room, site+" "+in.Lamps[i].Lot
	}
	return &in
}

func TestPoolIsOneFitOfAllLamps(t *testing.T) {
	ins := []*forecast.Input{laboratory(1, "a"), laboratory(2, "b"), laboratory(3, "c")}
	all := forecast.Input{AsOf: ins[0].AsOf, Defaults: ins[0].Defaults}
	var from []int
	for _, in := range ins {
		from = append(from, len(all.Lamps))
		for _, l := range in.Lamps {
			l.Group += len(all.Groups)
			all.Lamps = append(all.Lamps, l)
		}
		all.Groups = append(all.Groups, in.Groups...)
	}
	want := map[int]forecast.Posterior{}
	for _, p := range run(t, &all).Posteriors() {
		want[p.Lamp] = p
	}
	alone, worst := 0.0, 0.0
	for k, f := range pooled(t, ins...) {
		one := run(t, ins[k]).Posteriors()
		for i, p := range f.Posteriors() {
			q := want[from[k]+p.Lamp]
			d := math.Abs(p.Mean[0] - q.Mean[0])
			worst, alone = max(worst, d), max(alone, math.Abs(one[i].Mean[0]-q.Mean[0]))
			if !near(p.Mean[0], q.Mean[0], 1e-6) || !near(p.Cov[0], q.Cov[0], 1e-6) || !near(p.Mean[2], q.Mean[2], 1e-6) ||
				!near(p.WanderSD, q.WanderSD, 1e-6) || !near(p.TypeTail, q.TypeTail, 1e-6) || p.MostHours != q.MostHours {
				t.Errorf("site %d, %s: slope %v, all lamps in one fit %v", k, p.Fixture, p.Mean[0], q.Mean[0])
			}
		}
	}
	if alone < 1e-3 {
		t.Errorf("sites alone are off by %.1e: the test shows nothing", alone)
	}
	t.Logf("slopes: pooled within %.1e of one fit of all lamps, sites alone within %.1e", worst, alone)
}
