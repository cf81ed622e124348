package demo

import "sort"

// kind is a way in which a logger's file goes wrong.
type kind int

const (
	gap          kind = iota // no lines
	stuck                    // one channel repeats its value, day and night
	spike                    // one channel reads full scale
	noValue                  // one channel prints its code for no value
	badLine                  // a line that says nothing
	truncated                // the file ends within a line; the next holds it again
	repeatedDays             // the file repeats ten days of the one before
)

// mishap is one of them, over slots from to until.
type mishap struct {
	kind        kind
	from, until int
	channel     int // of stuck, spike, noValue; which garble, of badLine
}

// mishaps draws what befalls one bay's logger. A short record has at least one
// of each small kind.
func mishaps(c *calendar, seed uint64, place string, channels int) []mishap {
	r := chance(seed, "mishaps "+place)
	var list []mishap
	draw := func(k kind, perYear float64, least, most int) {
		for range max(1, int(perYear*float64(c.days)/365.25+0.5)) {
			from := r.IntN(c.slots*9/10) + c.slots/20
			list = append(list, mishap{k, from, min(from+least+r.IntN(most-least+1), c.slots), r.IntN(channels)})
		}
	}
	scale := min(1, float64(c.days)/365.25)
	long := func(slots int) int { return max(2, int(scale*float64(slots))) }
	draw(gap, 1.3, long(30), long(300))
	draw(stuck, 0.7, long(96), long(200))
	draw(noValue, 0.7, long(20), long(96))
	draw(spike, 4, 1, 1)
	draw(badLine, 2, 1, 1)
	mark := func(k kind, share float64) {
		s := c.starts[c.at(share)]
		list = append(list, mishap{k, s, s + 1, 0})
	}
	switch place {
	case "F1A":
		mark(truncated, 0.42)
	case "VEGB":
		mark(truncated, 0.71)
	case "F2B":
		mark(repeatedDays, 0.57)
	case "LED1A":
		mark(repeatedDays, 0.24)
	case "MOA":
		mark(repeatedDays, 0.83)
	case "PROPA":
		mark(repeatedDays, 0.33)
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].from < list[j].from })
	return list
}
