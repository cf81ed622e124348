package daily

import (
	"math"
	"slices"
	"sort"

	"wane/transform/robust"
	"wane/transform/sun"
)

// Roll makes a row for each day on which any series of the fixture spoke.
// Days are in order and do not overlap.
func Roll(in Input, days []Bound, g Gate) []Day {
	out, _ := new(Roller).RollNear(in, days, math.MinInt64, g)
	return out
}

// A burning lamp draws more than this (common practice, no source).
const (
	powerFloor   = 5.0 // W
	currentFloor = 0.05
)

// Roller rolls up one fixture after the other in memory that is used again. Its
// zero value is ready.
type Roller struct {
	in    Input
	gate  Gate
	runUp int64
	light litScan // over the readings of light that may count
	all   Track   // light, with the readings that daylight reached

	byPower, byCurrent litScan // tell of run-hours where light does not

	since int64 // of the day being rolled up
	known int64 // from when on readings are at hand
	lacks Lacks

	sunlit []int64 // moments of the light readings that daylight reached

	dim, supply, ambient, power, current seeker

	pick   []int // indices of the usable readings
	states []int // dim states of the picked readings
	counts []stateCount
	values []float64
	apart  []float64 // from their median
}

// start begins a fixture.
func (r *Roller) start(in Input, known int64, g Gate) {
	r.in, r.gate, r.runUp, r.all, r.known, r.lacks, r.sunlit = in, g, g.runUp(in.LampType), in.Light, known, Lacks{}, nil
	if in.Sky != nil {
		r.in.Light, r.sunlit = night(in.Light, *in.Sky, g.SunBelow)
	}
	r.light.start(r.in.Light, g.OnFloor, g, r.runUp)
	r.byPower.start(in.Power, powerFloor, g, r.runUp)
	r.byCurrent.start(in.Current, currentFloor, g, r.runUp)
	r.dim, r.supply, r.ambient, r.power, r.current = seeker{track: in.Dim}, seeker{track: in.Supply},
		seeker{track: in.Ambient}, seeker{track: in.Power}, seeker{track: in.Current}
}

func (r *Roller) day(b Bound) (Day, bool) {
	nan := math.NaN()
	d := Day{
		Day: b.Day, Hours: b.Hours(), PPFD: nan, Spread: nan, DimPct: nan, SupplyV: nan, AmbientC: nan, PowerW: nan,
		CurrentA: nan,
		Counter:  meter(r.in.Counter, b), Energy: meter(r.in.Energy, b),
	}
	r.since = b.Since
	lo, hi := span(r.in.Light, b.From, b.To)
	moments := r.light.scan(b, lo, hi)
	blo, bhi := lo, hi
	burn := r.burner(b)
	if burn != &r.light {
		blo, bhi = span(burn.track, b.From, b.To)
		burn.scan(b, blo, bhi)
	}
	d.LitH, d.EdgeH, d.Starts = burn.litH, burn.edgeH, burn.starts
	d.GapH = max(0, d.Hours-burn.seenH)
	slo, shi := between(r.sunlit, b.From, b.To)
	d.Left[Daylight] = shi - slo
	d.Readings = hi - lo + shi - slo
	r.gateDay(&d, lo, moments)
	r.note(b, burn)
	spoke := d.Readings > 0 || bhi > blo || d.Counter.Read() || d.Energy.Read()
	return d, spoke
}

// burner is the series that tells of the day's run-hours: light, or, where it
// was silent all the time or daylight hides the lamp, power, else current.
func (r *Roller) burner(b Bound) *litScan {
	power := r.speaks(r.in.Power, b)
	switch {
	case r.speaks(r.all, b) && (r.in.Sky == nil || !power):
		return &r.light
	case power:
		return &r.byPower
	default:
		return &r.byCurrent
	}
}

// speaks says whether a series has a reading on the day or in its run-in.
func (r *Roller) speaks(t Track, b Bound) bool {
	lo, hi := span(t, b.Since, b.To)
	return hi > lo
}

// gateDay leaves out, in turn, every moment that does not show steady output,
// and takes the medians of the rest. moments[i] belongs to reading lo+i.
func (r *Roller) gateDay(d *Day, lo int, moments []moment) {
	light := r.in.Light
	r.pick = r.pick[:0]
	for i, m := range moments {
		v := light.Value[lo+i]
		switch {
		case !m.lit:
			d.Left[Unlit]++
		case v > r.gate.Highest:
			d.Left[Implausible]++
		case m.since < r.runUp && !r.light.sparse:
			d.Left[RunningUp]++
		case m.last:
			d.Left[Edge]++
		case m.stuck:
			d.Left[Stuck]++
		default:
			r.pick = append(r.pick, lo+i)
		}
	}
	dim := r.keepDim(d)
	volts := r.keepSupply(d)
	mid, dropped := r.keepNearMedian(d)
	if r.clipped(mid) {
		d.Left[Implausible] += len(r.pick)
		r.pick = r.pick[:0]
	}
	least := r.gate.LeastMoments
	if r.light.sparse {
		least = 1
	}
	d.Usable = len(r.pick)
	if d.Usable < least {
		return
	}
	if dropped > 0 {
		volts = r.condition(&r.supply, robust.Middle)
		r.values = take(r.values[:0], light.Value, r.pick)
		mid = robust.Middle(r.values)
	}
	d.PPFD = mid
	d.Spread = r.spread(mid) / mid
	d.DimPct = dim
	d.SupplyV = volts
	d.AmbientC = r.condition(&r.ambient, mean)
	d.PowerW = r.condition(&r.power, robust.Middle)
	d.CurrentA = r.condition(&r.current, robust.Middle)
}

// spread is the robust standard deviation of the values at hand about their
// median.
func (r *Roller) spread(mid float64) float64 {
	r.apart = r.apart[:0]
	for _, v := range r.values {
		r.apart = append(r.apart, math.Abs(v-mid))
	}
	return robust.Normal * robust.Middle(r.apart)
}

// dimAt gives the dim state at t: the dim series' latest value of the last day,
// else the logged set point, else full power.
func (r *Roller) dimAt(t int64) float64 {
	if v, ok := r.dim.latest(t, min(DimHolds, t-r.since)); ok {
		return v
	}
	pct := 100.0
	for _, s := range r.in.SetPoints {
		if s.At > t {
			break
		}
		pct = s.Percent
	}
	return pct
}

// keepDim keeps the moments of the day's commonest dim state, in whole per
// cent, and gives it. A set point of 0 is no light of the lamp's own.
func (r *Roller) keepDim(d *Day) float64 {
	if pct, steady := r.steadyDim(); steady {
		return pct
	}
	r.states = r.states[:0]
	for _, i := range r.pick {
		r.states = append(r.states, int(math.Round(r.dimAt(r.in.Light.Time[i]))))
	}
	best := r.commonest()
	keep := r.pick[:0]
	for k, i := range r.pick {
		if best > 0 && r.states[k] == best {
			keep = append(keep, i)
		} else {
			d.Left[OddDim]++
		}
	}
	r.pick = keep
	return float64(best)
}

// commonest gives the commonest of the states from 1 on, of several the highest;
// 0 where there is none.
func (r *Roller) commonest() int {
	r.counts = r.counts[:0]
	at := 0 // in counts, of the state before, which mostly is this one's too
	for _, p := range r.states {
		if at == len(r.counts) || r.counts[at].state != p {
			if at = slices.IndexFunc(r.counts, func(c stateCount) bool { return c.state == p }); at < 0 {
				at = len(r.counts)
				r.counts = append(r.counts, stateCount{state: p})
			}
		}
		r.counts[at].n++
	}
	var best stateCount
	for _, c := range r.counts {
		if c.state >= 1 && (c.n > best.n || c.n == best.n && c.state > best.state) {
			best = c
		}
	}
	return best.state
}

type stateCount struct{ state, n int }

// steadyDim gives the day's dim state where no series tells of it and the
// logbook has one set point for all of the day's moments, above 0.
func (r *Roller) steadyDim() (float64, bool) {
	if r.in.Dim.Len() > 0 || len(r.pick) == 0 {
		return 0, false
	}
	first, last := r.in.Light.Time[r.pick[0]], r.in.Light.Time[r.pick[len(r.pick)-1]]
	for _, s := range r.in.SetPoints {
		if s.At > first && s.At <= last {
			return 0, false
		}
	}
	pct := math.Round(r.dimAt(first))
	return pct, pct >= 1
}

// How old, microseconds, a reading may be to speak of a moment.
const (
	Nearby   = 1 * microPerHour  // of a condition: supply, ambient temperature, power, current
	DimHolds = 24 * microPerHour // of a dim state
)

// latest gives the condition at t.
func (r *Roller) latest(s *seeker, t int64) (float64, bool) {
	return s.latest(t, min(Nearby, t-r.since))
}

// keepSupply leaves out the moments of an odd supply and gives the median supply
// of the others.
func (r *Roller) keepSupply(d *Day) float64 {
	mid := r.condition(&r.supply, robust.Middle)
	if math.IsNaN(mid) {
		return mid
	}
	keep := r.pick[:0]
	for _, i := range r.pick {
		if v, ok := r.latest(&r.supply, r.in.Light.Time[i]); ok && math.Abs(v/mid-1) > r.gate.SupplyShare {
			d.Left[OddSupply]++
			continue
		}
		keep = append(keep, i)
	}
	if len(keep) == len(r.pick) {
		return mid
	}
	r.pick = keep
	return r.condition(&r.supply, robust.Middle)
}

// keepNearMedian leaves out dips and spikes. It gives the median before, and how
// many it left out; where none, the values at hand are those of the moments.
func (r *Roller) keepNearMedian(d *Day) (mid float64, dropped int) {
	r.values = take(r.values[:0], r.in.Light.Value, r.pick)
	if len(r.values) == 0 {
		return math.NaN(), 0
	}
	mid = robust.Middle(r.values)
	keep := r.pick[:0]
	for _, i := range r.pick {
		if math.Abs(r.in.Light.Value[i]/mid-1) > r.gate.DipShare {
			dropped++
			continue
		}
		keep = append(keep, i)
	}
	d.Left[Shadowed] += dropped
	r.pick = keep
	return mid, dropped
}

// Of a day on which the head stood at its upper limit most of the time, the limit is the
// median and the light is not known. A coarse sensor over a steady lamp prints one value
// too, but few others, and as often above it as below.
const (
	clippedLeast  = 5 // readings at the limit
	clippedOthers = 3 // least different values below it
	clippedTimes  = 5 // how many times as often as any of those it must be printed
)

// clipped says whether the day's median is a limit at which readings pile up.
func (r *Roller) clipped(mid float64) bool {
	counts := map[float64]int{}
	for _, i := range r.pick {
		v := r.in.Light.Value[i]
		if v > mid {
			return false
		}
		counts[v]++
	}
	n := counts[mid]
	for v, k := range counts {
		if v != mid && clippedTimes*k > n {
			return false
		}
	}
	return n >= clippedLeast && len(counts) > clippedOthers
}

// condition sums up a series at the picked moments, NaN where it is silent.
func (r *Roller) condition(s *seeker, sum func([]float64) float64) float64 {
	if s.track.Len() == 0 {
		return math.NaN()
	}
	r.values = r.values[:0]
	for _, i := range r.pick {
		if v, ok := r.latest(s, r.in.Light.Time[i]); ok {
			r.values = append(r.values, v)
		}
	}
	if len(r.values) == 0 {
		return math.NaN()
	}
	return sum(r.values)
}

// span gives the indices of the readings in [from, to).
func span(t Track, from, to int64) (lo, hi int) { return between(t.Time, from, to) }

// between gives the indices of the times in [from, to).
func between(t []int64, from, to int64) (lo, hi int) {
	lo = sort.Search(len(t), func(i int) bool { return t[i] >= from })
	hi = lo + sort.Search(len(t)-lo, func(i int) bool { return t[lo+i] >= to })
	return lo, hi
}

// night takes out the readings that daylight reaches and gives their moments.
func night(t Track, sky Sky, below float64) (dark Track, sunlit []int64) {
	for i, at := range t.Time {
		if sun.Elevation(at, sky.Latitude, sky.Longitude) > -below {
			sunlit = append(sunlit, at)
			continue
		}
		dark.Time, dark.Value = append(dark.Time, at), append(dark.Value, t.Value[i])
	}
	return dark, sunlit
}

func meter(t Track, b Bound) Meter {
	lo, hi := span(t, b.From, b.To)
	if lo == hi {
		return Meter{}
	}
	return Meter{First: t.Value[lo], Last: t.Value[hi-1], FirstAt: t.Time[lo], LastAt: t.Time[hi-1]}
}

func take(dst, from []float64, pick []int) []float64 {
	for _, i := range pick {
		dst = append(dst, from[i])
	}
	return dst
}

func mean(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s / float64(len(v))
}
