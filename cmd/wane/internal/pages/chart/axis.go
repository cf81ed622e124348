package chart

import (
	"math"
	"strconv"
	"strings"
	"time"
	"wane/transform/estimate"

	"gonum.org/v1/plot"
)

// Axis is one axis of a chart. Where Min equals Max the range is that of the
// data, with a little room.
type Axis struct {
	Label    string // with the unit
	Min, Max float64
	Days     bool   // values are days since 1970-01-01, written as dates
	Places   int    // decimals of the numbers at the ticks, at least
	Ticks    []Tick // where the scale is not even, such as that of a Weibull plot: these and no others
}

// Tick is a mark on an axis with its words.
type Tick struct {
	At    float64
	Label string
}

// ticker writes about n labelled ticks.
type ticker struct {
	axis Axis
	n    int
}

// Ticks chooses them.
func (t ticker) Ticks(lo, hi float64) []plot.Tick {
	if len(t.axis.Ticks) > 0 {
		var out []plot.Tick
		for _, k := range t.axis.Ticks {
			if k.At >= lo && k.At <= hi {
				out = append(out, plot.Tick{Value: k.At, Label: k.Label})
			}
		}
		return out
	}
	if t.axis.Days {
		return dayTicks(lo, hi, t.n)
	}
	step := niceStep((hi - lo) / float64(t.n))
	places := max(t.axis.Places, int(math.Ceil(-math.Log10(step)-1e-9)))
	var out []plot.Tick
	for k := math.Ceil(lo/step - 1e-9); k*step <= hi+1e-9*step; k++ {
		out = append(out, plot.Tick{Value: k * step, Label: Number(k*step, places)})
	}
	return out
}

// niceStep is the 1, 2 or 5 times a power of ten nearest above x.
func niceStep(x float64) float64 {
	if !(x > 0) {
		return 1
	}
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, k := range []float64{1, 2, 5} {
		if k*p >= x*(1-1e-9) {
			return k * p
		}
	}
	return 10 * p
}

// dayTicks stand on the first of a month.
func dayTicks(lo, hi float64, n int) []plot.Tick {
	months := (hi - lo) / 30.44 / float64(n)
	step := 120
	for _, s := range []int{1, 2, 3, 6, 12, 24, 60} {
		if float64(s) >= months {
			step = s
			break
		}
	}
	from := time.Unix(int64(lo)*86400, 0).UTC()
	count := from.Year()*12 + int(from.Month()) - 1
	var out []plot.Tick
	for m := count - count%step; ; m += step {
		at := time.Date(m/12, time.Month(m%12+1), 1, 0, 0, 0, 0, time.UTC)
		day := float64(at.Unix() / 86400)
		if day > hi {
			return out
		}
		if day < lo {
			continue
		}
		label := at.Format("Jan 2006")
		if step >= 12 {
			label = at.Format("2006")
		}
		out = append(out, plot.Tick{Value: day, Label: label})
	}
}

// Number writes a number with commas between thousands.
func Number(v float64, places int) string {
	if !estimate.Finite(v) {
		return "not known"
	}
	s := strconv.FormatFloat(v, 'f', places, 64)
	sign := ""
	if strings.HasPrefix(s, "-") {
		s = s[1:]
		if strings.Trim(s, "0.") != "" {
			sign = "\u2212"
		}
	}
	whole, rest := s, ""
	if i := strings.IndexByte(s, '.'); i >= 0 {
		whole, rest = s[:i], s[i:]
	}
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	return sign + whole + rest
}
