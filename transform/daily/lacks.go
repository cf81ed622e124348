package daily

// Near is how long before a day, microseconds, readings are mostly enough: what
// of it counts for any moment of the day is no older, unless a series was
// silent, stood still or speaks seldom.
const Near = DimHolds

// Lacks names the series of which readings before those at hand, back to Since,
// may change a row.
type Lacks struct{ Light, Power, Current bool }

// RollNear is Roll with what is known from the moment known on (microseconds),
// and says what it lacks to be sure that its rows are those that Roll gives with
// everything from the days' Since on.
func (r *Roller) RollNear(in Input, days []Bound, known int64, g Gate) (out []Day, lacks Lacks) {
	r.start(in, known, g)
	for _, b := range days {
		if d, spoke := r.day(b); spoke {
			out = append(out, d)
		}
	}
	return out, r.lacks
}

// note sees what the day lacks once it is rolled up. Its burner is the one that
// there is if no silent series spoke before what is known.
func (r *Roller) note(b Bound, burn *litScan) {
	if r.known <= b.Since {
		return
	}
	if r.known > b.From-Near {
		r.lacks = Lacks{true, true, true}
		return
	}
	light := r.speaks(r.all, b)
	if !light || !r.light.sure(b, r.known) {
		r.lacks.Light = true
	}
	if light && r.in.Sky == nil {
		return // nothing else is asked for the lit hours
	}
	if !r.speaks(r.in.Power, b) || burn == &r.byPower && !burn.sure(b, r.known) {
		r.lacks.Power = true
	}
	if burn == &r.byCurrent && !burn.sure(b, r.known) {
		r.lacks.Current = true
	}
}

// sure says whether what the day takes over from the readings before it would be
// the same were there more of them than those from the moment known on. Their
// pace is told by the last few of the day, the threshold before it by 24 h; the
// first reading must be farther back than the lamp's running up and a value
// that counts as stuck.
func (s *litScan) sure(b Bound, known int64) bool {
	lo, hi := span(s.track, b.From, b.To)
	if lo == hi {
		return true // nothing was taken over
	}
	start, _ := between(s.track.Time[:lo], known, b.From)
	if hi-start < lookBack || lo-start < leastStuck {
		return false
	}
	return b.From-s.track.Time[start] >= max(s.runUp, int64(s.gate.StuckHours*microPerHour))
}
