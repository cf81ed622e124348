package inspect

import (
	"slices"
	"strings"
)

// candidate is a set of columns that may be the stamp.
type candidate struct {
	cols     []int
	shapes   []shape // that read most stamps, in equal number
	n        int     // stamps that read
	distinct int     // different moments
	forward  int     // steps from one line to the next in the direction that most take
	clock    bool
	named    bool // its first column is named for a time
	carried  bool // and for when the line was handed on
	digits   bool
}

// bestOf picks the candidate that tells most moments, then the fuller stamp.
func bestOf(all []candidate) (candidate, bool) {
	most, read := 0, 0
	for _, k := range all {
		most, read = max(most, k.distinct), max(read, k.n)
	}
	sound := func(k candidate) bool { // a bare number is a time by its name, or by its order
		return k.named || !k.digits || 10*k.forward >= 9*(k.distinct-1) && k.distinct > 1
	}
	rank := func(k candidate) (r []int) {
		for _, is := range []bool{sound(k), 2*k.distinct >= most, k.clock, k.named || !k.digits,
			10*k.distinct >= 11*most/2 && strings.Contains(k.shapes[0].pattern, "a") && len(k.cols) > 2, // its half
			!k.carried, k.ownMoment(), 20*k.n >= 19*read} { // a counter beside a date reads as hours and minutes now and then
			r = append(r, map[bool]int{true: 1}[is])
		}
		return append(r, -len(k.cols))
	}
	best := -1
	for i, k := range all {
		if best < 0 || slices.Compare(rank(k), rank(all[best])) > 0 {
			best = i
		}
	}
	if best < 0 || !sound(all[best]) {
		return candidate{}, false
	}
	for i, k := range all { // a column that parts more moments belongs to the stamp
		if sound(k) && 20*k.distinct > 21*all[best].distinct && k.clock && hasAll(k.cols, all[best].cols) {
			best = i
		}
	}
	return all[best], true
}

// ownMoment tells whether the stamp says its moment whatever zone the clock is in.
func (k candidate) ownMoment() bool {
	p, ok := compiled(k.shapes[0].pattern)
	return ok && p.format.OwnMoment()
}

func hasAll(cols, of []int) bool {
	return !slices.ContainsFunc(of, func(c int) bool { return !slices.Contains(cols, c) })
}

// rate looks at columns as a stamp: ok is false where most lines do not read.
func (t *table) rate(lines []record, cols ...int) (k candidate, ok bool) {
	stamps := slices.DeleteFunc(t.stampsOf(lines, cols),
		func(s string) bool { return !strings.ContainsAny(s, "0123456789") }) // headers again
	fit, n := fitting(stamps)
	if n == 0 {
		return k, false
	}
	k = candidate{cols: cols, shapes: fit, n: n, clock: fit[0].clock, digits: fit[0].digits || len(cols) > 1 &&
		isDigitText(stamps[len(stamps)-1])}
	k.named = t.namedAsTime(cols[0])
	for r := range t.heads() {
		k.carried = k.carried || r.names(cols[0]) && hasWord(r.cells[cols[0]], carried)
	}
	t.follow(&k, stamps)
	return k, true
}

// follow counts the moments of a candidate and how they go on.
func (t *table) follow(k *candidate, stamps []string) {
	p, ok := compiled(k.shapes[0].pattern)
	if !ok {
		return
	}
	seen := map[int64]bool{}
	up, down := 0, 0
	var last int64
	for _, s := range stamps {
		at, ok := p.fits(s)
		if !ok {
			continue
		}
		if len(seen) > 0 && at > last {
			up++
		} else if len(seen) > 0 && at < last {
			down++
		}
		last = at
		seen[at] = true
	}
	k.distinct, k.forward = len(seen), max(up, down)
}
