package suspect

import (
	"fmt"
	"slices"

	"wane/transform/fleet"
)

// A head at its upper limit prints one value over and over and none above it, while the
// readings just below scatter as ever. Limits are common practice, no source.
const (
	clippedShare  = 0.1  // least share of the lit readings at the limit
	clippedBelow  = 0.05 // how far below it readings are looked at, as a share of it
	clippedOthers = 8    // least different values there: a coarse sensor that stands still has few
	clippedTimes  = 3    // how many times as often as any of those the limit must be printed
)

// clipped finds light that piles up at the highest value that a head prints.
func clipped(c *series) []Finding {
	if c.Quantity != fleet.PPFD {
		return nil
	}
	counts, lit, top := map[float64]int{}, 0, 0.0
	for _, v := range c.Track.Value {
		if v > c.limit {
			counts[v]++
			lit, top = lit+1, max(top, v)
		}
	}
	n := counts[top]
	if lit == 0 || float64(n) < clippedShare*float64(lit) {
		return nil
	}
	others := 0
	for v, k := range counts {
		if v == top || v < top*(1-clippedBelow) {
			continue
		}
		if others++; clippedTimes*k > n {
			return nil
		}
	}
	if others < clippedOthers {
		return nil
	}
	first := slices.Index(c.Track.Value, top)
	last := len(c.Track.Value) - 1
	for c.Track.Value[last] != top {
		last--
	}
	return []Finding{{
		Sensor: c.sensor, Channel: c.Name, Kind: Clipped, From: moment(c.Track.Time[first]), To: moment(c.Track.Time[last]),
		Sure: Likely,
		What: fmt.Sprintf("%d of %d lit readings are %s and none is higher", n, lit, short(top)),
		Do: "look at the range of the sensor, its amplifier and the logger's channel; days of which most readings are " +
			"at the limit are left out of the levels",
	}}
}
