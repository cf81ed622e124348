package forecast

import (
	"math"
	"wane/transform/robust"
)

// A relamp is logged late or early: the last weeks of the old lamp's life then show
// the new one, or the first of the new lamp's the old. They belong to neither.

// How far weeks next to a relamp may stand off from those before or after it.
const (
	relampWeeks = 3   // weeks at the end of a life that are looked at
	relampJump  = .03 // ln
	relampSure  = 6.0 // errors of one week
)

// trimRelamps leaves out weeks that belong to the lamp before or after.
func (m *model) trimRelamps() {
	next := map[int]int{} // by Input.Lamps: the life after it
	at := map[string]int{}
	for i := range m.in.Lamps {
		l := &m.in.Lamps[i]
		if before, ok := at[l.Fixture]; ok && m.in.Lamps[before].Life+1 == l.Life && l.StartDay <= m.asOf {
			next[before] = i
		}
		at[l.Fixture] = i
	}
	var late []Step
	for _, l := range m.lamps {
		in := &m.in.Lamps[l.in]
		if follower, ok := next[l.in]; ok && m.ended(l) {
			if k, size := offEnd(l.bins); k < len(l.bins) {
				late = append(late, Step{Before: l.bins[k].Day - binDays, After: l.bins[k].Day + binDays/2, Size: size,
					SD:    relampJump / relampSure,
					Lamps: []int{follower}, Days: []int{l.bins[k].Day}, Groups: []int{in.groupOn(l.bins[k].Day)}, Relamp: true})
				l.bins = l.bins[:k]
			}
		}
		if in.Life > 1 {
			l.bins = l.bins[offStart(l.bins):]
		}
	}
	for _, of := range together(late, func(a, b Step) bool { return true }) {
		m.late = append(m.late, merged(of))
	}
}

// offEnd gives the first of the last weeks that stands off from those before it, all
// after it too; len(b) where none does.
func offEnd(b []Bin) (int, float64) {
	n := len(b)
	for k := max(n-relampWeeks, 4); k < n; k++ {
		base, noise := calm(b[max(0, k-stepWeeks):k])
		size := math.Inf(1)
		for _, x := range b[k:] {
			if d := x.LnOut - base; math.Abs(d) < math.Abs(size) {
				size = d
			}
		}
		if math.Abs(size) > max(relampJump, relampSure*noise) {
			return k, size
		}
	}
	return n, 0
}

// offStart gives how many of the first weeks lie under those after them.
func offStart(b []Bin) int {
	for k := min(relampWeeks, len(b)-4); k > 0; k-- {
		base, noise := calm(b[k:min(len(b), k+stepWeeks)])
		off := true
		for _, x := range b[:k] {
			off = off && x.LnOut-base < -max(relampJump, relampSure*noise)
		}
		if off {
			return k
		}
	}
	return 0
}

// calm is the median of some weeks and the spread of one.
func calm(b []Bin) (base, noise float64) {
	y, d := make([]float64, len(b)), make([]float64, len(b))
	for i := range b {
		y[i] = b[i].LnOut
	}
	base = robust.Sort(append([]float64(nil), y...))
	for i := range y {
		d[i] = math.Abs(y[i] - base)
	}
	return base, max(1.4826*robust.Sort(d), .002)
}
