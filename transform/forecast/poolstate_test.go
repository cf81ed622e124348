package forecast_test

import (
	"bytes"
	"encoding/gob"
	"reflect"
	"testing"

	"wane/transform/forecast"
)

// wired sends a value through bytes, as an engine does between machines.
func wired[T any](t *testing.T, v T) (out T) {
	t.Helper()
	var b bytes.Buffer
	if err := gob.NewEncoder(&b).Encode(v); err != nil {
		t.Fatal(err)
	}
	if err := gob.NewDecoder(&b).Decode(&out); err != nil {
		t.Fatal(err)
	}
	return out
}

// Each step on a machine of its own, which knows nothing but the censuses and what was
// sent to it, ends in the same bits as all of them on one.
func TestPoolStepsOnMachinesOfTheirOwn(t *testing.T) {
	var ins []*forecast.Input
	for seed := range uint64(3) {
		in := small(40 + seed).Input
		for i := range in.Lamps {
			in.Lamps[i].Make = "make of " + in.Lamps[i].Class
			if len(in.Lamps[i].Cleanings) == 0 {
				in.Lamps[i].Cleanings = []forecast.Clean{{Day: in.Lamps[i].Hung}}
			}
		}
		ins = append(ins, &in)
	}
	var census []forecast.Census
	for _, in := range ins {
		c, err := forecast.CensusOf(in)
		if err != nil {
			t.Fatal(err)
		}
		if len(c.NeverCleaned) > 0 {
			t.Fatal("a room was never cleaned: there would be two fits")
		}
		census = append(census, wired(t, c))
	}
	state := forecast.NewPool(forecast.DefaultTable(), census).State()
	there := func() *forecast.Pool {
		p := forecast.NewPool(forecast.DefaultTable(), census)
		if err := p.Restore(wired(t, state)); err != nil {
			t.Fatal(err)
		}
		return p
	}
	sites := make([]*forecast.SiteState, len(ins))
	const passes = 4
	for pass := range passes {
		var sum, learnt forecast.Sum
		for i, in := range ins {
			s, err := there().Reduce(in, sites[i])
			if err != nil {
				t.Fatal(err)
			}
			sum = sum.Add(wired(t, s))
		}
		p := there()
		if err := p.Solve(sum); err != nil {
			t.Fatal(err)
		}
		state = p.State()
		if pass == passes-1 {
			break
		}
		for i, in := range ins {
			next, s, err := there().Follow(in, sites[i])
			if err != nil {
				t.Fatal(err)
			}
			*next = wired(t, *next)
			sites[i], learnt = next, learnt.Add(wired(t, s))
		}
		p = there()
		for _, s := range sites {
			p.See(s)
		}
		p.Update(learnt)
		state = p.State()
	}
	want := pooled(t, ins...)
	for i, in := range ins {
		f, err := there().Fit(in, sites[i])
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(f.Posteriors(), want[i].Posteriors()) {
			t.Errorf("site %d differs", i)
		}
	}
}
