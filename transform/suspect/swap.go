package suspect

import (
	"fmt"
	"math"

	"wane/transform/daily"
	"wane/transform/fleet"
	"wane/transform/robust"
)

// Of a swap; common practice, no source.
const (
	swapPre  = 14   // days before, at most
	swapPost = 7    // days after, at most
	swapBoth = 2    // days on either side, at least
	swapFit  = 0.25 // how far the exchange may be from exact, share of what lies between the two
)

// swapped finds two channels of one sensor that exchanged their levels at one
// moment, while the others did not move and the logbook has no reason.
func swapped(all []series, days []daily.Bound, set Settings) []Finding {
	var light []*series
	var levels [][]Level
	for i := range all {
		c := &all[i]
		if c.Quantity != fleet.PPFD || c.Daylight {
			continue
		}
		light = append(light, c)
		levels = append(levels, append(append([]Level(nil), c.Past...), c.levels...))
	}
	if len(light) < 2 {
		return nil
	}
	type pair struct{ i, j int }
	best := map[pair]candidate{}
	var order []pair
	for d, b := range days {
		steps := make([]around, len(light))
		for i := range light {
			steps[i] = aroundDay(levels[i], b.Day)
		}
		for i := range light {
			for j := i + 1; j < len(light); j++ {
				misfit, ok := exchanged(steps, i, j, set)
				if !ok || touched(light[i].Channel, b.Day, b.Day) || touched(light[j].Channel, b.Day, b.Day) {
					continue
				}
				old, had := best[pair{i, j}]
				if !had {
					order = append(order, pair{i, j})
				}
				if !had || misfit < old.misfit {
					best[pair{i, j}] = candidate{d, misfit, steps[i], steps[j]}
				}
			}
		}
	}
	var out []Finding
	for _, p := range order {
		k := best[p]
		out = append(out, Finding{
			Sensor: light[p.i].sensor, Channel: light[p.i].Name, Kind: Swapped, From: moment(days[k.day].From),
			To: moment(days[len(days)-1].To), Sure: Likely,
			What: fmt.Sprintf("exchanged its level with %s: %s and %s before, %s and %s since", light[p.j].Name,
				short(k.a.pre), short(k.b.pre), short(k.a.post), short(k.b.post)),
			Do: "look whether the two cables, or the two columns of the export, were exchanged; if so, change `watches` of both with the date in register/sensors.csv",
		})
	}
	return out
}

// candidate is a day on which two channels may have been exchanged.
type candidate struct {
	day    int
	misfit float64
	a, b   around
}

// around is a channel's median before a day and after it, and how much its days
// scatter about the two, as shares. The day itself may show both.
type around struct {
	pre, post, scatter float64
	enough             bool
}

func aroundDay(levels []Level, day int32) around {
	var pre, post []float64
	for _, l := range levels {
		switch {
		case l.Day >= day-swapPre && l.Day < day:
			pre = append(pre, l.Value)
		case l.Day > day && l.Day <= day+swapPost:
			post = append(post, l.Value)
		}
	}
	a := around{pre: robust.Median(pre), post: robust.Median(post)}
	if len(pre) < swapBoth || len(post) < swapBoth || !(a.pre > 0 && a.post > 0) {
		return a
	}
	a.enough = true
	for _, v := range pre {
		a.scatter += math.Abs(math.Log(v/a.pre)) / float64(len(pre)+len(post))
	}
	for _, v := range post {
		a.scatter += math.Abs(math.Log(v/a.post)) / float64(len(pre)+len(post))
	}
	return a
}

// exchanged says whether channels i and j exchanged their levels, and how far
// from exactly and steadily.
func exchanged(s []around, i, j int, set Settings) (misfit float64, ok bool) {
	if !s[i].enough || !s[j].enough {
		return 0, false
	}
	apart := math.Log(s[j].pre / s[i].pre)
	fit := swapFit * math.Abs(apart)
	a, b := math.Abs(math.Log(s[i].post/s[i].pre)-apart), math.Abs(math.Log(s[j].post/s[j].pre)+apart)
	scatter := max(s[i].scatter, s[j].scatter)
	if math.Abs(apart) < math.Log1p(set.SwapApart) || scatter > fit || a > fit || b > fit {
		return 0, false
	}
	var others []float64
	for k := range s {
		if k != i && k != j && s[k].enough {
			others = append(others, math.Abs(math.Log(s[k].post/s[k].pre)))
		}
	}
	if len(others) > 0 && robust.Median(others) > math.Abs(apart)/2 { // something befell the bay
		return 0, false
	}
	return a + b + scatter, true
}
