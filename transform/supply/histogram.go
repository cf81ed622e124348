package supply

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"

	"wane/transform/estimate"

	"gonum.org/v1/gonum/stat/distuv"
)

// Bin counts the readings of one month (1 to 12, all years together), hour of
// day (0 to 23, local) and voltage bin, V being the bin's middle.
type Bin struct {
	Month int
	Hour  int
	V     float64
	N     int64
}

// Width is the width of a bin, V.
const Width = 0.5

// Histogram is what is known of one circuit's voltage.
type Histogram struct {
	Bins []Bin
	// PerHour is how many readings the logger makes in an hour; readings of one
	// hour are taken as one observation, since they hang together. 0 means 1.
	PerHour float64
}

// Check refuses bins that cannot be.
func (h Histogram) Check() error {
	if !(h.perHour() > 0) || math.IsInf(h.perHour(), 0) {
		return fmt.Errorf("histogram: %v readings an hour; there must be more than 0", h.PerHour)
	}
	for _, b := range h.Bins {
		if b.Month < 1 || b.Month > 12 || b.Hour < 0 || b.Hour > 23 {
			return fmt.Errorf("histogram: month %d hour %d does not exist; months are 1 to 12, hours 0 to 23", b.Month, b.Hour)
		}
		if math.IsNaN(b.V) || math.IsInf(b.V, 0) || b.V < 0 || b.N < 0 {
			return fmt.Errorf("histogram: %d readings at %v V cannot be; leave bad readings out before counting", b.N, b.V)
		}
	}
	return nil
}

func (h Histogram) perHour() float64 {
	if h.PerHour == 0 {
		return 1
	}
	return h.PerHour
}

// Counter counts readings by month, local hour of day and bin. The zero value is
// empty and ready.
type Counter struct{ n map[[3]int]int64 }

// Add counts n readings of a month (1 to 12) and hour (0 to 23) that fell into a
// bin: that from bin x Width to (bin + 1) x Width, V.
func (c *Counter) Add(month, hour int, bin, n int64) {
	if c.n == nil {
		c.n = map[[3]int]int64{}
	}
	c.n[[3]int{month, hour, int(bin)}] += n
}

// Bins gives the counts, in order of month, hour and voltage.
func (c *Counter) Bins() []Bin {
	out := make([]Bin, 0, len(c.n))
	for k, n := range c.n {
		out = append(out, Bin{k[0], k[1], (float64(k[2]) + .5) * Width, n})
	}
	slices.SortFunc(out, func(a, b Bin) int {
		return cmp.Or(cmp.Compare(a.Month, b.Month), cmp.Compare(a.Hour, b.Hour), cmp.Compare(a.V, b.V))
	})
	return out
}

// tally is the voltage counts of one cell, rising.
type tally struct {
	v       []float64
	n       []float64
	total   float64
	perHour float64
}

func (h Histogram) tally(keep func(Bin) bool) tally {
	sum := map[float64]float64{}
	for _, b := range h.Bins {
		if b.N > 0 && keep(b) {
			sum[b.V] += float64(b.N)
		}
	}
	t := tally{perHour: h.perHour()}
	for v := range sum {
		t.v = append(t.v, v)
	}
	sort.Float64s(t.v)
	for _, v := range t.v {
		t.n = append(t.n, sum[v])
		t.total += sum[v]
	}
	return t
}

// hours is the number of independent observations: hours seen, not readings.
func (t tally) hours() float64 { return t.total / t.perHour }

// quantile reads the voltage below which a share q of the readings lies, each
// bin's readings spread evenly over the bin.
func (t tally) quantile(q float64) float64 {
	want := q * t.total
	seen := 0.0
	for i, n := range t.n {
		if seen+n >= want {
			return t.v[i] - Width/2 + Width*math.Max(0, want-seen)/n
		}
		seen += n
	}
	return t.v[len(t.v)-1] + Width/2
}

// estimate gives a quantile with the interval between order statistics
// (binomial, on hours seen; Beta quantiles for fractional counts).
func (t tally) estimate(q, level float64) estimate.Estimate {
	method := fmt.Sprintf("%.3g %% point of binned readings; interval from order statistics of the hours seen", 100*q)
	if t.total == 0 {
		return estimate.None(method, "no readings")
	}
	n := t.hours()
	a := (1 - level) / 2
	lo, hi := 0.0, 1.0
	if k := n * q; k > 0 {
		lo = distuv.Beta{Alpha: k, Beta: n - k + 1}.Quantile(a)
		hi = distuv.Beta{Alpha: k + 1, Beta: n - k}.Quantile(1 - a)
	}
	e := estimate.Estimate{Centre: t.quantile(q), Lo: t.quantile(lo), Hi: t.quantile(hi), Level: level, N: int(n),
		Method: method}
	if n < 5 {
		e = e.Warn(fmt.Sprintf("rests on %.0f hours", n))
	}
	return e
}

// share gives the share of readings for which in holds, a bin counting as a
// whole by its middle, with the exact (Clopper-Pearson) interval on hours seen.
func (t tally) share(in func(v float64) bool, level float64) estimate.Estimate {
	const method = "share of readings, Clopper-Pearson interval on the hours seen"
	if t.total == 0 {
		return estimate.None(method, "no readings")
	}
	k := 0.0
	for i, v := range t.v {
		if in(v) {
			k += t.n[i]
		}
	}
	p, n := k/t.total, t.hours()
	a := (1 - level) / 2
	e := estimate.Estimate{Centre: p, Lo: 0, Hi: 1, Level: level, N: int(n), Method: method}
	if x := p * n; x > 0 {
		e.Lo = math.Min(p, distuv.Beta{Alpha: x, Beta: n - x + 1}.Quantile(a))
	}
	if x := p * n; x < n {
		e.Hi = math.Max(p, distuv.Beta{Alpha: x + 1, Beta: n - x}.Quantile(1-a))
	}
	return e
}
