package inspect

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"regexp"
	"slices"

	"wane/ingest/reading"
)

// checkValues: a series behaves as what it is called.
func (r *Report) checkValues(k *keep) {
	for i := range k.all {
		s := &k.all[i]
		c, wide := r.column(s.name.Channel)
		if !wide { // the channel is named in the rows
			if q := quantityOf(s.name.Channel); q.beyond(s.name.Channel) == "" {
				c = Column{Quantity: q.id}
			}
		}
		r.checkRange(s, c)
		r.checkScale(s, c)
		r.checkFahrenheit(s, c)
		r.checkHours(s, c)
		r.checkSpikes(s)
		r.checkCodes(s, c)
	}
}

// column finds the column that is stored under a channel's name; none where the rows name it.
func (r *Report) column(channel string) (c Column, ok bool) {
	i := slices.IndexFunc(r.Columns, func(c Column) bool { return c.Role == "value" && c.Channel == channel && channel != "" })
	if i < 0 {
		return c, false
	}
	return r.Columns[i], true
}

// possible bounds a quantity with room: a decimal sign that was lost, or tenths in whole numbers, make numbers ten times
// too great or more (common practice, no source).
var possible = map[string][2]float64{
	"ppfd": {-200, 3500}, "rh_pct": {-20, 150}, "dim_pct": {-20, 150}, "supply_v": {-100, 1200}, "ambient_c": {-1000, 150},
}

// checkRange: where a good part of a quantity's values cannot be, its unit or its column is another one. Codes for no
// value, which stand alone, are few or far off by themselves.
func (r *Report) checkRange(s *series, c Column) {
	bounds, known := possible[c.Quantity]
	if !known || c.light || otherUnits[unitKey(c.Unit)] != "" {
		return
	}
	var rows []Row
	n, different := 0, map[float64]bool{}
	for _, p := range s.points {
		if v := p.value.Float(); v < bounds[0] || v > bounds[1] {
			n++
			different[v] = true
			if len(rows) < doubtRows {
				rows = append(rows, s.row(p))
			}
		}
	}
	if len(different) > 3 && 5*n > len(s.points) {
		r.doubt("range", fmt.Sprintf("%d of %d values of %s are no %s: its unit is another one, or its decimals are misread; "+
			"name the unit in the description, and the factor that goes with it in register/sensors.csv",
			n, len(s.points), s.name.Channel, c.Quantity), rows...)
	}
}

// checkScale: per cents that never exceed one are parts of one, and volts of a supply thousands. Without a unit power of a
// few is of kilowatts, PPFD of thousandths, and light up to a hundred may be anything, where no other column is of light.
func (r *Report) checkScale(s *series, c Column) {
	of, least := c.Quantity, map[string]float64{"rh_pct": 1, "dim_pct": 1, "supply_v": 1}[c.Quantity]
	if c.Unit == "" && (of == "power_w" || of == "ppfd") {
		least = 5
	} else if c.Unit == "" && of == "" && hasWord(c.Name, lightWords) && !slices.ContainsFunc(r.Columns, func(o Column) bool {
		return o.Role == "value" && o.Channel != c.Channel && (o.Quantity == "ppfd" || hasWord(o.Name, lightWords))
	}) {
		of, least = "light", 100
	}
	if least == 0 || otherUnits[unitKey(c.Unit)] != "" {
		return
	}
	most, kinds := 0.0, map[float64]bool{}
	for _, p := range s.points {
		most = max(most, math.Abs(p.value.Float()))
		kinds[p.value.Float()] = true
	}
	if most > 0 && most <= least && len(kinds) > 2 {
		r.doubt("scale", fmt.Sprintf("no value of %s exceeds %g: is it %s in its own unit, or parts of one, thousands, per cents? "+
			"Name the unit at its column, and give the factor in register/sensors.csv", s.name.Channel, least, of),
			s.row(s.points[0]))
	}
}

// checkFahrenheit: where no unit is stated, and it never is as cool as 45, degrees may be those of Fahrenheit.
func (r *Report) checkFahrenheit(s *series, c Column) {
	if c.Quantity != "ambient_c" || c.Unit != "" {
		return
	}
	n := 0
	for _, p := range s.points {
		if v := p.value.Float(); v > 45 && v < 130 {
			n++
		}
	}
	if n >= 8 && 100*n >= 97*len(s.points) {
		r.doubt("unit", fmt.Sprintf("%s has no unit, and %d of its %d values lie between 45 and 130: are they degrees Fahrenheit, "+
			"or so warm? Say unit: degF or unit: degC at its column", s.name.Channel, n, len(s.points)), s.row(s.points[0]))
	}
}

// checkHours: a meter of hours does not run faster than the clock, nor by minutes a day, each day.
func (r *Report) checkHours(s *series, c Column) {
	n := len(s.points)
	if c.Quantity != "run_hours" || n < 3 {
		return
	}
	rises, falls := 0, 0
	for i := 1; i < n; i++ {
		a, b := s.points[i-1], s.points[i]
		switch by := b.value.Float() - a.value.Float(); {
		case b.at > a.at && by > 0 || b.at < a.at && by < 0:
			rises++
		case b.at != a.at && by != 0:
			falls++
		}
	}
	if falls > 1 && 3*falls > rises {
		r.doubt("hours", fmt.Sprintf("%s falls %d times and rises %d times: a meter of burning hours counts up; are they hours "+
			"of a day, or such as are left?", s.name.Channel, falls, rises), s.row(s.points[0]), s.row(s.points[n-1]))
	}
	if falls > 0 {
		return
	}
	first, last := s.points[0], s.points[n-1]
	hours := float64(last.at-first.at) / float64(hourMicros)
	grown := last.value.Float() - first.value.Float()
	if rises >= few && 10*rises > 9*(n-1) && 100*grown < hours && last.value.Float() < 200 {
		r.doubt("scale", fmt.Sprintf("%s grows by %g in %g hours, a little each time: does it count thousands of hours?",
			s.name.Channel, grown, hours), s.row(first), s.row(last))
	}
	if grown > 1.1*hours+1 {
		r.doubt("scale", fmt.Sprintf("%s grows by %g in %g hours: it counts minutes or tenths of an hour, or no hours", s.name.Channel,
			grown, hours), s.row(first), s.row(last))
	}
}

// checkSpikes: a meter that counts up, and is ten times as far now and then, has these values in another unit.
func (r *Report) checkSpikes(s *series) {
	var rows []Row
	last, rises := math.Inf(-1), 0
	for _, p := range s.points {
		switch x := p.value.Float(); {
		case x < last:
			return // no counter
		case last > 0 && x > 10*last:
			rows = append(rows, s.row(p))
		case x > last:
			last = x
			rises++
		}
	}
	if n := len(rows); n >= 3 && rises >= few {
		r.doubt("scale", fmt.Sprintf("%d values of %s are ten times those about them or more, which count up: are they in another "+
			"unit?", n, s.name.Channel), rows...)
	}
}

// codeLike is a number that instruments write where they have none: minus one, nothing but nines, or the end of a
// counter's range.
var codeLike = regexp.MustCompile(`^(-1|-?9{2,}(\.9+)?|-?99+\.0+|127|255|1023|4095|8191|16383|32767|65535|2147483647|` +
	`-128|-32768|-2147483648)(\.0+)?$`)

// checkCodes: a number that comes again and again, exactly, and lies by itself beyond all others is no reading, whatever
// it is. Of light and of what lamps take, nearly nought is the lamps being off.
func (r *Report) checkCodes(s *series, c Column) {
	count := map[reading.Value]int{}
	for _, p := range s.points {
		count[p.value]++
	}
	values := slices.SortedFunc(maps.Keys(count), func(a, b reading.Value) int { return cmp.Compare(a.Float(), b.Float()) })
	n := len(values)
	for end := 1; end <= 3 && n-end >= 4; end++ { // so many codes beyond the others
		for _, e := range [][4]int{{end - 1, end, end, n - 1}, {n - end, n - end - 1, 0, n - end - 1}} {
			v, next := values[e[0]], values[e[1]].Float()
			low, high := values[e[2]].Float(), values[e[3]].Float()
			text := fmt.Sprintf("%.*f", v.Digits, v.Float())
			like := codeLike.MatchString(text)
			alone := math.Abs(v.Float()-next) > high-low || like && v.Float() < 0 && next >= 0
			many := 10*count[v] >= len(s.points) && !like || 2*count[v] >= len(s.points)
			if count[v] < 3 || many || !alone || !like && mayBeOff(c, v.Float(), low, high) && !s.countsBeside(v) {
				continue
			}
			r.doubt("codes", fmt.Sprintf("%d of %d values of %s are %s, by themselves beyond all others (%g to %g): if that "+
				"stands for no value, name it under missingValues", count[v], len(s.points), s.name.Channel, text, low, high))
			return
		}
	}
}

// countsBeside tells whether a series goes one way all the time, but where it has one number.
func (s *series) countsBeside(aside reading.Value) bool {
	last, up, down := math.NaN(), 0, 0
	for _, p := range s.points {
		if p.value == aside {
			continue
		}
		switch x := p.value.Float(); {
		case x > last:
			up++
		case x < last:
			down++
		}
		last = p.value.Float()
	}
	return min(up, down) == 0 && up+down >= few
}

// mayBeOff tells whether a number is little beside the others of a quantity that falls to nought with the lamps.
func mayBeOff(c Column, v, low, high float64) bool {
	switch c.Quantity {
	case "ambient_c", "rh_pct", "supply_v":
		return false
	}
	return math.Abs(v) <= max(math.Abs(low), math.Abs(high))/10
}
