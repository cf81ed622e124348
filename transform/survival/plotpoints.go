package survival

import (
	"math"
	"sort"
)

// Point is one failure on Weibull axes: a Weibull is a straight line of slope
// beta in X and Y.
type Point struct {
	Time   float64
	Failed float64 // plotting position, a share
	X, Y   float64 // log(Time), log(-log(1-Failed))
}

// PlotPoints gives what to draw on a Weibull plot, and the name of the plotting
// position.
//
// For units all watched from new: median ranks by Benard's approximation
// (i-0.3)/(n+0.4) with Johnson's adjusted rank i for censored units
// (Abernethy, The New Weibull Handbook; from memory). With late entries ranks
// have no meaning: the middle of the Kaplan-Meier step (Meeker and Escobar
// 1998, chapter 6).
func PlotPoints(units []Unit) ([]Point, string, error) {
	if err := check(units); err != nil {
		return nil, "", err
	}
	for _, u := range units {
		if u.Entry > 0 {
			return kmPoints(units), "middle of the Kaplan-Meier step", nil
		}
	}
	return rankPoints(units), "median rank, adjusted for censoring", nil
}

func newPoint(t, f float64) Point {
	return Point{Time: t, Failed: f, X: math.Log(t), Y: math.Log(-math.Log1p(-f))}
}

func kmPoints(units []Unit) []Point {
	b := newBand(LogLog, 0.95)
	watch := newClock(len(units), func(i int) (float64, float64) { return units[i].Entry, units[i].Exit })
	var times []float64
	died := map[float64]int{}
	for _, u := range units {
		if u.Failed && u.Exit > 0 {
			if died[u.Exit] == 0 {
				times = append(times, u.Exit)
			}
			died[u.Exit]++
		}
	}
	sort.Float64s(times)
	var points []Point
	for _, t := range times {
		before := b.survival
		b.add(watch.atRisk(t), died[t])
		if before > 0 {
			points = append(points, newPoint(t, 1-(before+b.survival)/2))
		}
	}
	return points
}

func rankPoints(units []Unit) []Point {
	sorted := append([]Unit(nil), units...)
	sort.Slice(sorted, func(i, j int) bool {
		if sorted[i].Exit != sorted[j].Exit {
			return sorted[i].Exit < sorted[j].Exit
		}
		return sorted[i].Failed && !sorted[j].Failed
	})
	n, rank := float64(len(sorted)), 0.0
	var points []Point
	for i, u := range sorted {
		if !u.Failed || u.Exit == 0 {
			if u.Failed {
				rank++
			}
			continue
		}
		// Each censored unit before shares its rank among those that came after it.
		rank += (n + 1 - rank) / (n + 1 - float64(i))
		points = append(points, newPoint(u.Exit, (rank-0.3)/(n+0.4)))
	}
	return points
}
