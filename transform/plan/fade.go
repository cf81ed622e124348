package plan

import (
	"math"
	"sort"
)

// fade is the expected loss of level with age: an equal mixture of straight
// lines from 100 % when new through the threshold at each possible crossing
// hour. Straight lines are an assumption, printed with the plan; high-pressure
// sodium declines nearly linearly (Keith, note on lamp lumen depreciation).
type fade struct {
	slopes []float64 // level lost per hour, falling
	mean   float64
	sd     float64
	upTo   float64 // age to which no line has reached 0 %
}

func newFade(c crossing, threshold float64) fade {
	slopes := make([]float64, len(c.nodes))
	for i, h := range c.nodes {
		slopes[i] = (1 - threshold) / h
	}
	return fadeOf(slopes)
}

func fadeOf(slopes []float64) fade {
	f := fade{slopes: slopes}
	sort.Sort(sort.Reverse(sort.Float64Slice(f.slopes)))
	for _, a := range slopes {
		f.mean += a / float64(len(slopes))
	}
	for _, a := range slopes {
		f.sd += (a - f.mean) * (a - f.mean) / float64(len(slopes))
	}
	f.sd = math.Sqrt(f.sd)
	if len(slopes) > 0 && f.slopes[0] > 0 {
		f.upTo = 1 / f.slopes[0]
	}
	return f
}

// lost is the expected share of output lost at age h.
func (f fade) lost(h float64) float64 {
	if h <= f.upTo {
		return f.mean * h
	}
	sum := 0.0
	for _, a := range f.slopes {
		sum += math.Min(1, a*h)
	}
	return sum / float64(len(f.slopes))
}

// cv is the coefficient of variation of level among lamps of age h.
func (f fade) cv(h float64) float64 {
	level := 1 - f.lost(h)
	if level <= 0.05 {
		level = 0.05
	}
	return f.sd * h / level
}

// pool mixes the fades of many lamps into that of a new one, kept to at most
// 100 lines evenly taken over the sorted slopes.
func pool(fades []fade) fade {
	var all []float64
	for _, f := range fades {
		all = append(all, f.slopes...)
	}
	sort.Float64s(all)
	const most = 100
	if len(all) > most {
		thin := make([]float64, most)
		for i := range thin {
			thin[i] = all[(2*i+1)*len(all)/(2*most)]
		}
		all = thin
	}
	return fadeOf(all)
}
