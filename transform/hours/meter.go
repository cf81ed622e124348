package hours

import (
	"fmt"
	"math"
	"slices"
)

// Step is how a meter went from one reading to the next.
type Step int

// The steps.
const (
	Advance  Step = iota
	Rollover      // ran over the top of its face
	Reset         // set to zero, or another meter: the advance is not known
	Jump          // advanced by more hours than passed: not believed
)

// slack is how much more than the elapsed time a meter may advance: rounding
// of its face and of the moment it was read.
const slack = 1.0 // h

// Advanced tells what happened between two readings of a meter's face, elapsed
// hours apart, and how far it went. A fall from the top tenth of its range to
// the bottom tenth is a rollover, any other fall a reset or a replacement; the
// range is the next power of ten above the higher reading. For another counter
// than one of hours, elapsed is the most that it can have counted meanwhile.
func Advanced(from, to, elapsed float64) (float64, Step) {
	if to >= from {
		if to-from > elapsed+slack {
			return 0, Jump
		}
		return to - from, Advance
	}
	top := math.Pow(10, math.Ceil(math.Log10(math.Max(from, 1)+1e-9)))
	if from >= 0.9*top && to <= 0.1*top && top-from+to <= elapsed+slack {
		return top - from + to, Rollover
	}
	return 0, Reset
}

// metered is a day's share of what a meter advanced.
type metered struct {
	metered  bool
	hours    float64
	disagree float64
}

const microPerHour = 3600e6

// face is a reading of a meter: how far the days are counted by it, and from
// where the next advance counts.
type face struct {
	read bool
	at   int64 // microseconds UTC
	h    float64
}

// meterShares spreads each advance of the meter over the days that it spans,
// by their lamp-on time; nil where no meter was read.
func meterShares(days []Day, est []estimated, warnings *[]string) []metered {
	if !slices.ContainsFunc(days, func(d Day) bool { return d.MeterAt != 0 }) {
		return nil
	}
	out := make([]metered, len(days))
	var prev face
	lo := 0 // the first day after the reading
	odd := map[Step]int{}
	for i, d := range days {
		if d.MeterAt == 0 {
			continue
		}
		from, first := prev, lo
		if !from.read {
			if d.FirstAt != 0 && d.FirstAt < d.MeterAt && (d.MeterAt-d.FirstAt) >= 20*microPerHour {
				from, first = face{true, d.FirstAt, d.First}, i // the first metered day, read from its start
			}
		}
		prev, lo = face{true, d.MeterAt, d.Meter}, i+1
		if !from.read {
			continue
		}
		adv, step := Advanced(from.h, d.Meter, float64(d.MeterAt-from.at)/microPerHour)
		if step == Reset || step == Jump {
			odd[step]++
			continue
		}
		spread(out[first:i+1], est[first:i+1], days[first:i+1], adv)
	}
	if n := disbelieveStill(out, days); n > 0 {
		*warnings = append(*warnings, fmt.Sprintf("hour meter stood still for %s while the lamp was seen lit: lamp-on "+
			"time counts there", plural(n, "day")))
	}
	if n := odd[Reset]; n > 0 {
		*warnings = append(*warnings, fmt.Sprintf("hour meter fell back %s without a rollover (reset or replaced): "+
			"lamp-on time counts there", plural(n, "time")))
	}
	if n := odd[Jump]; n > 0 {
		*warnings = append(*warnings, fmt.Sprintf("hour meter advanced by more than the hours that passed %s: lamp-on "+
			"time counts there", plural(n, "time")))
	}
	return out
}

// stillLit is how long a lamp must have been seen lit over days on which the meter did not
// move, for the meter to stand still: a face of tens of hours moves by then (common
// practice, no source).
const stillLit = 24.0 // h

// disbelieveStill takes the meter's word from the days on which it stood still while the
// lamp was seen lit, and counts them.
func disbelieveStill(out []metered, days []Day) int {
	n := 0
	for lo := 0; lo < len(out); lo++ {
		lit, hi := 0.0, lo
		for hi < len(out) && out[hi].metered && out[hi].hours == 0 {
			lit += days[hi].LitH
			hi++
		}
		if lit >= stillLit {
			for k := lo; k < hi; k++ {
				out[k] = metered{}
			}
			n += hi - lo
		}
		lo = max(lo, hi)
	}
	return n
}

// spread gives each day its share of the advance, in proportion to its own
// estimate, to its length where no day has one, and never more than its length
// while there is room elsewhere.
func spread(out []metered, est []estimated, days []Day, adv float64) {
	sum, length := 0.0, 0.0
	for k := range est {
		sum += est[k].hours
		length += days[k].Length
	}
	disagree := math.NaN()
	if adv > 0 && sum > 0 {
		disagree = (sum - adv) / adv
	}
	for k := range est {
		share := days[k].Length / length
		if sum > 0 {
			share = est[k].hours / sum
		}
		out[k] = metered{metered: true, hours: adv * share, disagree: disagree}
	}
	level(out, days)
}

// level moves hours that do not fit in a day to the others of the stretch.
func level(out []metered, days []Day) {
	for range len(out) {
		over, room := 0.0, 0.0
		for k := range out {
			if x := out[k].hours - days[k].Length; x > 1e-12 {
				over += x
				out[k].hours = days[k].Length
			} else {
				room -= x
			}
		}
		if over == 0 || room <= 0 {
			return
		}
		f := min(1, over/room)
		for k := range out {
			if x := days[k].Length - out[k].hours; x > 0 {
				out[k].hours += f * x
			}
		}
	}
}

// takeFace lets the meter's face stand for the hours of a first lamp that
// burned before the record began, where the face is possible for it.
func takeFace(out []Total, days []Day, start Start) string {
	first := -1
	for i, d := range days {
		if d.MeterAt != 0 {
			first = i
			break
		}
	}
	if first < 0 || days[first].Day-start.Day < 2 {
		return ""
	}
	h := days[first].Meter
	most := start.Hours + 24*float64(days[first].Day-start.Day+1)
	if h < start.Hours || h > most {
		return fmt.Sprintf("hour meter first read %.0f h, not possible for a lamp with %.0f h put in %d days before: the "+
			"usual day counts until then",
			h, start.Hours, days[first].Day-start.Day)
	}
	at, stretch := out[first], 1.0
	if at.Hours > start.Hours {
		stretch = (h - start.Hours) / (at.Hours - start.Hours)
	}
	for i := range out[:first] { // the days before share what the face says
		t := &out[i]
		t.Burned *= stretch
		t.Hours = start.Hours + stretch*(t.Hours-start.Hours)
		t.Lo, t.Hi = min(t.Lo, t.Hours), max(t.Hi, t.Hours)
	}
	for i := first; i < len(out); i++ { // and those after go on from it
		t := &out[i]
		t.Hours, t.Lo, t.Hi = h+t.Hours-at.Hours, h+t.Lo-at.Lo, h+t.Hi-at.Hi
	}
	return "hours before the record began are the hour meter's"
}

func plural(n int, unit string) string {
	if n == 1 {
		return "1 " + unit
	}
	return fmt.Sprintf("%d %ss", n, unit)
}
