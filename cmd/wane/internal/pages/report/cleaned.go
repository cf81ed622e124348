package report

import (
	"fmt"
	"math"

	"wane/transform/estimate"
	"wane/transform/lamp"
	"wane/transform/robust"
)

// Days before and after a cleaning whose readings are held against each other, and
// how many of them there must be on either side.
const (
	cleanedDays = 14
	leastDays   = 5
)

// cleaned is by how much the light as read rose over a day on which somebody
// cleaned: the median of the days after over that of the days before, less 1. Its
// 95 % interval is that of a difference of two medians of normal readings, each
// with spread 1.2533 s / sqrt(n) (Kendall and Stuart, The Advanced Theory of
// Statistics, on the standard error of a median; from memory).
func cleaned(l *lamp.Life, day int32) estimate.Estimate {
	const method, z95 = "medians of the days before and after", 1.96
	var before, after []float64
	for i := range l.Levels {
		x := &l.Levels[i]
		switch {
		case !estimate.Finite(x.Level) || x.Level <= 0:
		case x.Day >= day-cleanedDays && x.Day < day:
			before = append(before, math.Log(x.Level))
		case x.Day > day && x.Day <= day+cleanedDays:
			after = append(after, math.Log(x.Level))
		}
	}
	if len(before) < leastDays || len(after) < leastDays {
		return estimate.None(method, "too few readings beside it")
	}
	b, a := robust.Median(before), robust.Median(after)
	sb, sa := robust.SD(before, b), robust.SD(after, a)
	se := 1.2533 * math.Sqrt(sb*sb/float64(len(before))+sa*sa/float64(len(after)))
	share := func(ln float64) float64 { return math.Expm1(ln) }
	return estimate.Estimate{Centre: share(a - b), Lo: share(a - b - z95*se), Hi: share(a - b + z95*se), Level: 0.95,
		N: len(before) + len(after), Method: method}
}

// cleanedMeans is what cleanedWords say, for the caption of a table that holds them.
const cleanedMeans = "beside a cleaning, by how much the light as read changed over it, with the 95\u00a0% interval"

// cleanedWords says it.
func cleanedWords(l *lamp.Life, day int32) string {
	e := cleaned(l, day)
	if !e.Known() {
		return ""
	}
	verdict := "no change that can be told"
	switch {
	case e.Lo > 0:
		verdict = "it helped"
	case e.Hi < 0:
		verdict = "the light fell all the same"
	}
	return fmt.Sprintf("%s: %s", verdict, signed(shifted(e)))
}

// shifted is a change as a ratio, which signed writes.
func shifted(e estimate.Estimate) estimate.Estimate {
	e.Centre, e.Lo, e.Hi = 1+e.Centre, 1+e.Lo, 1+e.Hi
	return e
}
