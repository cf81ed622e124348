package forecast_test

import "testing"

// All posteriors say of a lamp in service what those of lamps in service say: in a room
// that nobody ever cleaned also what it is without dirt.
func TestAllPosteriorsKnowTheCleanRoom(t *testing.T) {
	in := steady()
	for i := range in.Lamps {
		in.Lamps[i].Cleanings = nil
	}
	fit := run(t, in)
	none := 0
	for _, p := range fit.PosteriorsOfAll() {
		if p.NoDirt != nil {
			none++
		}
		if p.Ended != (p.NoDirt == nil) {
			t.Errorf("fixture %s: ended %v, known without dirt %v", p.Fixture, p.Ended, p.NoDirt != nil)
		}
	}
	if none != len(fit.Posteriors()) {
		t.Errorf("%d of %d lamps in service are known without dirt", none, len(fit.Posteriors()))
	}
}
