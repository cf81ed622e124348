package forecast_test

import (
	"bytes"
	"encoding/gob"
	"fmt"
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

// Each step on a machine of its own, which knows nothing but what was sent to it, ends
// in the same bits as all of them on one, whatever the order in which the sites speak.
// One site has a room that nobody ever cleaned, one has no week yet.
func TestPoolStepsOnMachinesOfTheirOwn(t *testing.T) {
	var ins []*forecast.Input
	for seed := range uint64(4) {
		in := small(40 + seed).Input
		for i := range in.Lamps {
			l := &in.Lamps[i]
			l.Make = "make of " + l.Class
			if seed == 1 {
				l.Cleanings = nil
			} else if len(l.Cleanings) == 0 {
				l.Cleanings = []forecast.Clean{{Day: l.Hung}}
			}
			if seed == 2 {
				l.Bins = nil
			}
		}
		ins = append(ins, &in)
	}
	state, kept := forecast.NewJoined(forecast.Defaults{}).State(), make([]forecast.Kept, len(ins))
	there := func() *forecast.Joined {
		j, err := wired(t, state).Joined()
		if err != nil {
			t.Fatal(err)
		}
		return j
	}
	for step := range forecast.Steps {
		var said forecast.Said
		for k := range ins {
			i := (k + step) % len(ins)
			next, x, err := there().Site(step, ins[i], wired(t, kept[i]))
			if err != nil {
				t.Fatal(err)
			}
			kept[i], said = next, wired(t, said).Add(wired(t, x))
		}
		j := there()
		if err := j.Group(step, wired(t, said)); err != nil {
			t.Fatal(err)
		}
		state = j.State()
	}
	if len(state.Pools) != 2 || len(kept[2].States) != 0 {
		t.Fatalf("%d fits, %d states of the site without a week", len(state.Pools), len(kept[2].States))
	}
	want := pooled(t, ins...)
	for i, in := range ins {
		f, err := there().Fit(in, wired(t, kept[i]))
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(f.PosteriorsOfAll(), want[i].PosteriorsOfAll()) {
			t.Errorf("site %d differs", i)
		}
		a, b := f.Answers(forecast.Asking{}), want[i].Answers(forecast.Asking{})
		if fmt.Sprint(a) != fmt.Sprint(b) {
			t.Errorf("site %d: answers differ:\n%v\n%v", i, a, b)
		}
	}
}
