package suspect

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/transform/robust"
)

// clock is what one sensor's switching says of its clock, day by day.
type clock struct {
	sensor   string
	room     string
	declared bool      // offsets are against the room's programme, else against its own habit
	limit    float64   // minutes within which nothing is odd
	step     float64   // cadence, minutes
	offset   []float64 // by day: clock minus programme, minutes; NaN where the day does not tell
}

// leastDays is how many days must tell of the clock before it is judged.
const leastDays = 3

// clockOf compares the switching that a sensor saw with the room's programme,
// or where none is declared, with the sensor's own usual one. Only days on
// which switching on and off are moved by the same tell of the clock: a longer
// day is the grower's affair.
func clockOf(all []series, in Input, set Settings) (clock, bool) {
	var k clock
	on, off := make([][]float64, len(in.Days)), make([][]float64, len(in.Days))
	for i := range all {
		c := &all[i]
		if !c.burns() || c.Daylight || c.Room == "" || k.room != "" && c.Room != k.room {
			continue
		}
		k.sensor, k.room = c.sensor, c.Room
		k.step = max(k.step, float64(c.step)/60e6)
		for d, e := range edges(c, in.Days) {
			if !math.IsNaN(e.on) {
				on[d] = append(on[d], e.on)
			}
			if !math.IsNaN(e.off) {
				off[d] = append(off[d], e.off)
			}
		}
	}
	k.limit = max(set.ClockMinutes, k.step+1) // a logger may stamp either end of what it averaged
	if k.step == 0 || k.step > 60 {
		return k, false // too coarse to tell
	}
	ons, offs := make([]float64, len(in.Days)), make([]float64, len(in.Days))
	for d := range in.Days {
		ons[d], offs[d] = middle(on[d]), middle(off[d])
	}
	room, ok := in.Rooms[k.room]
	k.declared = ok && room.OnMinute >= 0 && room.Hours > 0 && room.Hours < 24
	from, to := room.OnMinute, math.Mod(room.OnMinute+60*room.Hours, 1440)
	if !k.declared {
		from, to = usual(ons), usual(offs)
	}
	k.offset = make([]float64, len(in.Days))
	told := 0
	for d := range k.offset {
		a, b := round(ons[d], from), round(offs[d], to)
		k.offset[d] = math.NaN()
		if math.Abs(a-b) <= k.limit { // false where one is not known
			k.offset[d] = (a + b) / 2
			told++
		}
	}
	return k, told >= leastDays
}

// middle is the median of minutes on a clock, about the first of them.
func middle(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	rel := make([]float64, len(v))
	for i := range v {
		rel[i] = round(v[i], v[0])
	}
	return v[0] + robust.Median(rel)
}

// usual is the middle of those minutes that are known.
func usual(v []float64) float64 {
	return middle(slices.DeleteFunc(slices.Clone(v), math.IsNaN))
}

// shift is a stretch of days with one offset.
type shift struct {
	lo, hi  int // days, both included
	minutes float64
}

// shifts gives the stretches of at least two telling days in which a clock is
// off by more than its limit and by the same, and what remains usual.
func (k *clock) shifts() []shift {
	var out []shift
	for d := 0; d < len(k.offset); {
		if !k.off(d) {
			d++
			continue
		}
		s := shift{lo: d, hi: d}
		v := []float64{k.offset[d]}
		for e := d + 1; e < len(k.offset); e++ {
			if math.IsNaN(k.offset[e]) {
				continue
			}
			if !k.off(e) || math.Abs(k.offset[e]-k.offset[s.hi]) > k.limit/2+k.step {
				break
			}
			s.hi = e
			v = append(v, k.offset[e])
		}
		if s.minutes = robust.Median(v); len(v) >= 2 {
			out = append(out, s)
		}
		d = s.hi + 1
	}
	return out
}

func (k *clock) off(d int) bool { return math.Abs(k.offset[d]) > k.limit }

// rightOutside says whether any day outside the stretch tells that the clock is right.
func (k *clock) rightOutside(s shift) bool {
	for d, v := range k.offset {
		if (d < s.lo || d > s.hi) && math.Abs(v) <= k.limit {
			return true
		}
	}
	return false
}

// drift gives the slope of the offsets in minutes a day by Theil and Sen, and
// whether it is beyond what switching seen at this cadence can show by chance.
func (k *clock) drift() (slope float64, shows bool) {
	var slopes []float64
	first, last := -1, -1
	for a := range k.offset {
		if math.IsNaN(k.offset[a]) {
			continue
		}
		if first < 0 {
			first = a
		}
		last = a
		for b := a + 1; b < len(k.offset); b++ {
			if d := k.offset[b] - k.offset[a]; !math.IsNaN(d) {
				slopes = append(slopes, d/float64(b-a))
			}
		}
	}
	if last-first < 6 || len(slopes) < 15 {
		return 0, false
	}
	slope = robust.Median(slopes)
	var rest []float64
	base := k.offset[first]
	for d := first; d <= last; d++ {
		if !math.IsNaN(k.offset[d]) {
			rest = append(rest, k.offset[d]-base-slope*float64(d-first))
		}
	}
	m := robust.Median(rest)
	for i := range rest {
		rest[i] = math.Abs(rest[i] - m)
	}
	slices.Sort(rest)
	worst := rest[len(rest)*9/10] // a jump leaves half of itself on either side of a slope
	total := math.Abs(slope) * float64(last-first)
	return slope, total > max(3, 1.5*k.step) && worst <= max(0.55*k.step+1, total/8)
}

// judge turns what the clocks say into findings. Where two or more loggers of
// a room say the same and none of the others is right, it is the programme that
// is asked about, once.
func judge(clocks []clock, in Input) []Finding {
	var out []Finding
	byRoom := map[string][]int{}
	var rooms []string
	for i := range clocks {
		r := clocks[i].room
		if byRoom[r] == nil {
			rooms = append(rooms, r)
		}
		byRoom[r] = append(byRoom[r], i)
	}
	slices.Sort(rooms)
	for _, r := range rooms {
		list := byRoom[r]
		if len(list) > 1 {
			if f, ok := ofRoom(clocks, list, in); ok {
				out = append(out, f)
				continue
			}
		}
		for _, i := range list {
			out = append(out, clocks[i].findings(in)...)
		}
	}
	return out
}

func ofRoom(clocks []clock, list []int, in Input) (Finding, bool) {
	first := clocks[list[0]].shifts()
	if len(first) == 0 {
		return Finding{}, false
	}
	s := first[len(first)-1]
	var names []string
	for _, i := range list {
		k := &clocks[i]
		same := false
		for _, o := range k.shifts() {
			same = same || o.lo <= s.hi && s.lo <= o.hi && math.Abs(o.minutes-s.minutes) <= k.limit
		}
		if !same {
			return Finding{}, false
		}
		names = append(names, k.sensor)
	}
	k := &clocks[list[0]]
	what := fmt.Sprintf("all loggers of room %s (%s) see the lamps switch %s than %s", k.room, strings.Join(names, ", "),
		k.earlier(s.minutes), k.against())
	return Finding{
		Sensor: names[0], Kind: Programme, From: moment(in.Days[s.lo].From), To: moment(in.Days[s.hi].To), What: what,
		Sure: Possible,
		Do:   fmt.Sprintf("if the programme was changed, write it into site.yaml (rooms: %s); if not, the zone declared in sources/ is wrong for all of them%s", k.room, hour(s.minutes, k)),
	}, true
}

func (k *clock) findings(in Input) []Finding {
	var out []Finding
	slope, drifts := k.drift()
	for _, s := range k.shifts() {
		f := Finding{Sensor: k.sensor, From: moment(in.Days[s.lo].From), To: moment(in.Days[s.hi].To), Sure: Likely}
		seen := fmt.Sprintf("lamps switch %s by its clock than %s", k.earlier(s.minutes), k.against())
		switch {
		case k.isHour(s.minutes):
			f.Kind, f.What = OneHour, seen
			f.Do = "an export with or without summer time, or the clock set by an hour: mend the zone in its description, or the logger's clock"
		case k.rightOutside(s):
			f.Kind, f.What = ClockJump, seen+"; on other days it was right"
			f.Do = "set the logger's clock; the readings of these days have wrong times"
		case k.declared:
			f.Kind, f.What = ClockOff, seen
			f.Do = fmt.Sprintf("set the logger's clock, or correct the programme of room %s in site.yaml", k.room)
			f.Sure = Possible
		default:
			continue
		}
		out = append(out, f)
	}
	if drifts {
		way := "fast"
		if slope < 0 {
			way = "slow"
		}
		f := Finding{
			Sensor: k.sensor, Kind: ClockDrift, From: moment(in.Days[0].From), To: moment(in.Days[len(in.Days)-1].To),
			Sure: Likely,
			What: fmt.Sprintf("its clock runs %s by about %.1f min a day against the lamps' switching", way, math.Abs(slope)),
			Do:   "set the logger's clock, and again after some weeks; a new battery often mends it",
		}
		return []Finding{f} // what looks like shifts is the drift
	}
	return out
}

// isHour says whether an offset is one hour, as summer time makes it.
func (k *clock) isHour(minutes float64) bool {
	return math.Abs(math.Abs(minutes)-60) <= max(4, k.step/2+1)
}

func (k *clock) against() string {
	if k.declared {
		return "the programme of room " + k.room
	}
	return "they usually do"
}

// earlier says an offset in words; switching is seen to within half a cadence.
func (k *clock) earlier(minutes float64) string {
	amount, way := fmt.Sprintf("%.0f min", math.Abs(minutes)), "later"
	if minutes < 0 {
		way = "earlier"
	}
	if k.isHour(minutes) {
		amount = "an hour"
	}
	return amount + " " + way
}

func hour(minutes float64, k *clock) string {
	if k.isHour(minutes) {
		return "; an hour is what summer time makes: the lamps' timer may not follow it"
	}
	return ""
}
