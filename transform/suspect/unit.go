package suspect

import (
	"fmt"
	"math"

	"wane/transform/daily"
	"wane/transform/fleet"
	"wane/transform/robust"
)

// Ratios by which another unit shows.
const (
	// Lux per umol/m2/s: 54 in sunlight, 71 metal halide, 74 cool white
	// fluorescent, 82 high-pressure sodium, all from memory; white LED lie
	// between (common practice, no source).
	luxLeast, luxMost = 54.0, 85.0
	// luxPerFootcandle is the definition: one lumen on a square foot of 0.3048 m
	// a side.
	luxPerFootcandle = 1 / (0.3048 * 0.3048)
	// ratioSlack is how far, as a share, a ratio may be from a class: cleaning,
	// a new lamp and the voltage move it meanwhile (common practice, no source).
	ratioSlack = 0.12
	// pastDays is how many days of the past there must be.
	pastDays = 5
)

// another is a class of ratio of the level to its own past.
type another struct {
	lo, hi float64
	kind   Kind
	what   string
}

var others = func() []another {
	out := []another{
		{luxLeast * (1 - ratioSlack), luxMost * (1 + ratioSlack), OtherUnit, "lux"},
		{luxLeast / luxPerFootcandle * (1 - ratioSlack), luxMost / luxPerFootcandle * (1 + ratioSlack/2), OtherUnit,
			"foot-candles"},
	}
	for _, ten := range []float64{10, 100, 1000} {
		out = append(out, another{ten * (1 - ratioSlack/2), ten * (1 + ratioSlack), Decimal, ""})
		out = append(out, another{(1 - ratioSlack) / ten, (1 + ratioSlack) / ten, Decimal, ""})
	}
	return out
}()

// ratioed are the quantities whose usual value is steady enough to be held
// against its past.
func ratioed(q fleet.Quantity) bool {
	switch q {
	case fleet.PPFD, fleet.SupplyV, fleet.CurrentA, fleet.PowerW:
		return true
	}
	return false
}

// otherUnit holds the usual value of each day against the median of the days
// before and tells a stretch of at least two days that is off by the ratio of
// another unit or of a slipped decimal.
func otherUnit(c *series, days []daily.Bound) []Finding {
	if !ratioed(c.Quantity) || len(c.Past) < pastDays {
		return nil
	}
	past := make([]float64, len(c.Past))
	for i, l := range c.Past {
		past[i] = l.Value
	}
	usual := robust.Middle(past)
	if !(usual > 0) {
		return nil
	}
	var out []Finding
	levels := c.levels
	for lo := 0; lo < len(levels); lo++ {
		k := classOf(levels[lo].Value/usual, c.Quantity)
		if k < 0 {
			continue
		}
		hi := lo
		for hi+1 < len(levels) && classOf(levels[hi+1].Value/usual, c.Quantity) == k {
			hi++
		}
		if hi > lo && !(others[k].hi < 1 && touched(c.Channel, levels[lo].Day, levels[lo].Day)) {
			out = append(out, ratioFinding(c, &others[k], days, levels[lo], levels[hi], usual))
		}
		lo = hi
	}
	return out
}

func ratioFinding(c *series, k *another, days []daily.Bound, first, last Level, usual float64) Finding {
	f := Finding{Sensor: c.sensor, Channel: c.Name, Kind: k.kind, Sure: Likely}
	f.From, f.To = moment(days[first.Day-days[0].Day].From), moment(days[last.Day-days[0].Day].To)
	ratio := first.Value / usual
	f.What = fmt.Sprintf("reads %s where it read %s before, %s times that", short(first.Value), short(usual), short(ratio))
	if k.kind == OtherUnit {
		f.What += ": the ratio of " + k.what + " to umol/m2/s"
		f.Do = fmt.Sprintf("look at the logger's setting; if it writes %s, declare it as the unit in the description or write the factor with its date in register/sensors.csv", k.what)
		return f
	}
	f.What += ": a slipped decimal"
	f.Do = "look at the logger's scaling and the decimal sign in its description"
	if k.hi < 1 {
		f.Sure = Possible
		f.Do += "; if the lamps were dimmed that far, log it: wane log dim"
	}
	return f
}

// classOf gives the index of the class that a ratio falls in, -1 for none.
func classOf(ratio float64, q fleet.Quantity) int {
	best, at := math.Inf(1), -1
	for i, k := range others {
		if ratio < k.lo || ratio > k.hi || k.kind == OtherUnit && q != fleet.PPFD {
			continue
		}
		if d := math.Abs(math.Log(ratio / math.Sqrt(k.lo*k.hi))); d < best {
			best, at = d, i
		}
	}
	return at
}

// touched says whether the logbook has something within two days of a stretch.
func touched(c *Channel, from, to int32) bool {
	for _, d := range c.Touched {
		if d >= from-2 && d <= to+2 {
			return true
		}
	}
	return false
}
