package lamp

import (
	"math"
	"wane/transform/daily"
	"wane/transform/fleet"
	"wane/transform/sensitivity"
)

// swings gives days as the estimation of the coefficients takes them: undimmed,
// since a dimmed lamp answers the voltage by its driver.
func (l *Life) swings(rows []daily.Row) []sensitivity.Day {
	var out []sensitivity.Day
	from := l.ReadFrom()
	for i := range rows {
		d := &rows[i]
		if d.Day.Day < from || d.Day.Day > l.LastDay || !(d.PPFD > 0) || d.DimPct != 100 {
			continue
		}
		out = append(out, sensitivity.Day{Day: d.Day.Day, Out: math.Log(d.PPFD), Supply: math.Log(d.SupplyV),
			Ambient: d.AmbientC})
	}
	return out
}

// manyLamps is of how many fixtures of a kind the coefficients are estimated at
// most, taken evenly: their interval rests on the number of fortnights, and
// hardly on that of lamps.
const manyLamps = 500

// sample tells of which fixtures the days go into the site's own coefficients.
func sample(fixtures []*fleet.Fixture) map[*fleet.Fixture]bool {
	byGear, byType := map[fleet.Gear]int{}, map[fleet.LampType]int{}
	for _, f := range fixtures {
		byGear[f.Gear]++
		byType[f.LampType]++
	}
	every := func(n int) int { return (n + manyLamps - 1) / manyLamps }
	gear, typ := map[fleet.Gear]int{}, map[fleet.LampType]int{}
	out := map[*fleet.Fixture]bool{}
	for _, f := range fixtures {
		if gear[f.Gear]%every(byGear[f.Gear]) == 0 || typ[f.LampType]%every(byType[f.LampType]) == 0 {
			out[f] = true
		}
		gear[f.Gear]++
		typ[f.LampType]++
	}
	return out
}
