package forecast_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"wane/transform/forecast"
)

// Of the nights between two week ends every fit gives the same posteriors, and
// the input says so; with the week that ends, both change.
func TestPosteriorsHoldForTheWeek(t *testing.T) {
	in := &small(7).Input
	var before []forecast.Posterior
	var print [32]byte
	turns := 0
	for day := in.AsOf - 9; day <= in.AsOf; day++ {
		cut := in.Truncate(day)
		ps := run(t, &cut).Posteriors()
		if len(ps) == 0 {
			t.Fatal("nothing was fitted")
		}
		now := cut.Fingerprint()
		if before != nil {
			stored := make([]forecast.Posterior, len(before))
			for i := range before {
				stored[i] = before[i].Timeless()
				stored[i].At(&cut)
			}
			same := cmp.Equal(stored, ps)
			if now == print && !same {
				t.Errorf("day %d: nothing to be seen changed, but the posteriors did", day)
			}
			if now != print {
				turns++
				if same {
					t.Errorf("day %d: a week ended and no posterior changed", day)
				}
			}
		}
		before, print = ps, now
	}
	if turns != 1 && turns != 2 {
		t.Errorf("%d weeks ended within nine days", turns)
	}
}

// An input with earlier blocks given by their chain is told from no other than
// the whole, and is not fitted.
func TestChainStandsForEarlierBlocks(t *testing.T) {
	whole := small(7).Input
	part := whole
	part.Lamps = append([]forecast.Lamp(nil), whole.Lamps...)
	l := &part.Lamps[3]
	n := len(l.Blocks) / 2
	l.Before, l.Blocks = forecast.Chain(l.Before, l.Blocks[:n]), l.Blocks[n:]
	if whole.Fingerprint() != part.Fingerprint() {
		t.Error("the chain comes to something else than its blocks")
	}
	if _, err := forecast.Run(&part, forecast.Options{}); err == nil {
		t.Error("fitted without the earlier blocks")
	}
	l.Blocks = append([]forecast.Block(nil), l.Blocks...)
	l.Blocks[0].LnOut += 1e-12
	if whole.Fingerprint() == part.Fingerprint() {
		t.Error("another value was not seen")
	}
}
