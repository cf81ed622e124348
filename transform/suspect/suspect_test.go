package suspect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"wane/transform/daily"
	"wane/transform/fleet"
	"wane/transform/robust"
)

// invented is a sensor like those of the demo site: six channels over lamps of
// one room, two weeks of readings and two months of past.
type invented struct {
	step    int     // minutes
	on      float64 // minutes after midnight
	hours   float64
	noise   float64
	channel int
	calm    int // so many channels have no relamp
	rng     *rand.Rand
}

const (
	firstDay = 20000
	window   = 14
	pastLen  = 60
)

func days() []daily.Bound {
	var out []daily.Bound
	for d := int32(firstDay); d < firstDay+window; d++ {
		out = append(out, daily.Bound{Day: d, From: int64(d) * 86400e6, To: int64(d+1) * 86400e6})
	}
	return out
}

func draw(seed uint64) invented {
	rng := rand.New(rand.NewPCG(seed, 7))
	return invented{
		step: []int{1, 5, 15}[rng.IntN(3)], on: float64(15 * rng.IntN(96)), hours: []float64{12, 18, 16.5}[rng.IntN(3)],
		noise: 0.002 + 0.006*rng.Float64(), channel: 2 + rng.IntN(7), rng: rng,
	}
}

// clockAt turns true minutes of a day into what the logger's clock prints.
type clockAt func(day, minute float64) float64

// sensor makes the readings: decline, a swinging supply, noise, a gap, a spike,
// a logged relamp now and then, run-up after switching on.
func (v *invented) sensor(name string, clock clockAt) Sensor {
	s := Sensor{Name: name}
	r := v.rng
	for ch := range v.channel {
		c := Channel{Name: fmt.Sprintf("CH%d", ch+1), Quantity: fleet.PPFD, Room: "veg"}
		base, slope := 600*math.Exp(0.06*r.NormFloat64()), 2e-4*r.Float64()
		relamp := -1
		if r.IntN(6) == 0 && ch >= v.calm {
			relamp = r.IntN(window)
			c.Touched = []int32{firstDay + int32(relamp)}
		}
		for d := -pastLen; d < 0; d++ {
			if r.IntN(20) > 0 {
				c.Past = append(c.Past, Level{int32(firstDay + d),
					base * math.Exp(-slope*float64(d+pastLen)) * (1 + v.noise*r.NormFloat64()/3)})
			}
		}
		gap := r.IntN(window * 1440)
		spike := r.IntN(window * 1440 / v.step)
		phase := 0.0
		for k := 0; k < window*1440/v.step; k++ {
			m := k * v.step
			if m >= gap && m < gap+300 {
				continue
			}
			day, minute := float64(m/1440), float64(m%1440)
			out := base * math.Exp(-slope*float64(pastLen)) * math.Exp(-slope*day) * (1 + 0.01*math.Sin(float64(m)/500+phase))
			if relamp >= 0 && day >= float64(relamp) {
				out *= 1.09
			}
			since := math.Mod(minute-v.on+1440, 1440)
			value := 0.0
			if since < 60*v.hours {
				value = out * (1 - 0.6*math.Exp(-since/3)) * (1 + v.noise*r.NormFloat64())
			} else if r.IntN(4) == 0 {
				value = 0.1
			}
			if k == spike {
				value = 25000
			}
			at := firstDay*1440 + day*1440 + minute
			if clock != nil {
				at = firstDay*1440 + clock(day, minute)
			}
			if at >= float64(firstDay+window)*1440 || at < firstDay*1440 {
				continue
			}
			c.Track.Time = append(c.Track.Time, int64(math.Round(at*60))*1e6)
			c.Track.Value = append(c.Track.Value, math.Round(10*value)/10)
		}
		s.Channels = append(s.Channels, c)
	}
	return s
}

func (v *invented) input(s ...Sensor) Input {
	return Input{Days: days(), Sensors: s, Rooms: map[string]Room{"veg": {v.on, v.hours}}}
}

// Two hundred sound sensors, with and without a declared programme: what is
// found there is a false alarm.
func TestFalseAlarms(t *testing.T) {
	alarms, sensors := 0, 0
	for seed := range uint64(60) {
		v := draw(seed)
		in := v.input(v.sensor("a", nil), v.sensor("b", nil))
		if seed%3 == 0 {
			in.Rooms = nil
		}
		sensors += 2
		for _, f := range Find(in, Defaults()) {
			alarms++
			t.Logf("seed %d: %+v", seed, f)
		}
	}
	t.Logf("%d false alarms in %d sensors over two weeks", alarms, sensors)
	if alarms > sensors/100 {
		t.Errorf("%d false alarms in %d sensors", alarms, sensors)
	}
}

// fault is one thing that goes wrong, and what must be found.
type fault struct {
	name  string
	kind  Kind
	least float64 // hit rate
	clock func(v *invented) clockAt
	spoil func(v *invented, s *Sensor)
	room  bool // both sensors of the room
}

func from(at float64, c *Channel, change func(i int)) {
	for i, t := range c.Track.Time {
		if float64(t)/86400e6-firstDay >= at {
			change(i)
		}
	}
}

func times(k float64) func(v *invented, s *Sensor) {
	return func(v *invented, s *Sensor) {
		at := 2 + 9*v.rng.Float64()
		c := &s.Channels[0]
		from(at, c, func(i int) { c.Track.Value[i] *= k })
	}
}

// moved is a clock that is off by so many minutes from a day on, for so many days.
func moved(minutes float64, span int) func(v *invented) clockAt {
	return func(v *invented) clockAt {
		first := float64(2 + v.rng.IntN(window-span-3))
		return func(day, minute float64) float64 {
			if day >= first && day < first+float64(span) {
				minute += minutes
			}
			return day*1440 + minute
		}
	}
}

var faults = []fault{
	{name: "lux of a high-pressure sodium lamp", kind: OtherUnit, least: 1, spoil: times(82)},
	{name: "lux of a metal halide lamp", kind: OtherUnit, least: 1, spoil: times(71)},
	{name: "foot-candles of a high-pressure sodium lamp", kind: OtherUnit, least: 1, spoil: times(82 * 0.3048 * 0.3048)},
	{name: "a decimal up", kind: Decimal, least: 1, spoil: times(10)},
	{name: "three decimals up", kind: Decimal, least: 1, spoil: times(1000)},
	{name: "a decimal down", kind: Decimal, least: 1, spoil: times(0.1)},
	{name: "export an hour late for four days", kind: OneHour, least: 0.95, clock: moved(60, 4)},
	{name: "export an hour early for four days", kind: OneHour, least: 0.95, clock: moved(-60, 4)},
	{name: "clock jumps by 35 min", kind: ClockJump, least: 0.9, clock: moved(35, 5)},
	{name: "clock off by 47 min for good", kind: ClockOff, least: 0.95, clock: func(*invented) clockAt {
		return func(day, minute float64) float64 { return day*1440 + minute + 47 }
	}},
	{name: "clock gains 3 min a day", kind: ClockDrift, least: 0.9, clock: func(*invented) clockAt {
		return func(day, minute float64) float64 { return (day*1440 + minute) * (1 + 3.0/1440) }
	}},
	{name: "all loggers of the room an hour off", kind: Programme, least: 0.95, room: true,
		clock: func(*invented) clockAt {
			return func(day, minute float64) float64 { return day*1440 + minute + 60 }
		}},
	{name: "a stuck channel, 30 h", kind: Stuck, least: 0.95, spoil: func(v *invented, s *Sensor) {
		at := float64(firstDay) + 2 + 8*v.rng.Float64()
		for i, t := range s.Channels[0].Track.Time {
			if d := float64(t) / 86400e6; d >= at && d < at+1.25 {
				s.Channels[0].Track.Value[i] = 412.7
			}
		}
	}},
	{name: "code for no value not declared", kind: OutOfRange, least: 1, spoil: func(v *invented, s *Sensor) {
		from(3, &s.Channels[0], func(i int) {
			if i%10 == 0 {
				s.Channels[0].Track.Value[i] = 65535
			}
		})
	}},
	{name: "two cables swapped", kind: Swapped, least: 0.9, spoil: func(v *invented, s *Sensor) {
		at := 3 + 8*v.rng.Float64()
		a, b := &s.Channels[0], &s.Channels[1]
		ratio := 1.15 * usualOf(a) / usualOf(b) // b ends 15 % above a, whatever was drawn
		for i := range b.Past {
			b.Past[i].Value *= ratio
		}
		for i := range b.Track.Value {
			b.Track.Value[i] *= ratio
		}
		byTime := map[int64]int{}
		for i, t := range b.Track.Time {
			byTime[t] = i
		}
		from(at, a, func(i int) {
			if k, ok := byTime[a.Track.Time[i]]; ok {
				a.Track.Value[i], b.Track.Value[k] = b.Track.Value[k], a.Track.Value[i]
			}
		})
	}},
}

func usualOf(c *Channel) float64 {
	var v []float64
	for _, l := range c.Past {
		v = append(v, l.Value)
	}
	return robust.Median(v)
}

// Every fault is found at its rate, and by its name.
func TestHitRate(t *testing.T) {
	const rounds = 12
	for _, f := range faults {
		hits, beside := 0, map[Kind]int{}
		for seed := range uint64(rounds) {
			v := draw(1000 + seed)
			v.calm = 2
			var clock clockAt
			if f.clock != nil {
				clock = f.clock(&v)
			}
			a := v.sensor("a", clock)
			if f.spoil != nil {
				f.spoil(&v, &a)
			}
			if !f.room {
				clock = nil
			}
			in := v.input(a, v.sensor("b", clock))
			hit := false
			for _, g := range Find(in, Defaults()) {
				if g.Kind == f.kind && g.Sensor == "a" {
					hit = true
				} else {
					beside[g.Kind]++
				}
			}
			if hit {
				hits++
			}
		}
		rate := float64(hits) / rounds
		t.Logf("%-45s %-20s found %3.0f %%; beside it %v", f.name, f.kind, 100*rate, beside)
		if rate < f.least {
			t.Errorf("%s: found in %d of %d", f.name, hits, rounds)
		}
	}
}

// A logged relamp of two lamps that happen to exchange levels is no swap, and a
// logged deep dimming no slipped decimal.
func TestLoggedChangesAreNotSuspected(t *testing.T) {
	v := draw(3)
	s := v.sensor("a", nil)
	for i := range s.Channels {
		c := &s.Channels[i]
		from(6, c, func(i int) { c.Track.Value[i] *= 0.1 })
		c.Touched = []int32{firstDay + 6}
	}
	for _, f := range Find(v.input(s), Defaults()) {
		t.Errorf("%+v", f)
	}
}

// Every finding has all its parts, and no series at all is no finding.
func TestFindingsSayAll(t *testing.T) {
	if got := Find(Input{Days: days(), Sensors: []Sensor{{Name: "a"},
		{Name: "b", Channels: []Channel{{Name: "1", Quantity: fleet.PPFD}}}}}, Defaults()); len(got) != 0 {
		t.Errorf("%+v", got)
	}
	v := draw(5)
	s := v.sensor("a", func(day, minute float64) float64 { return day*1440 + minute + 60 })
	times(82)(&v, &s)
	got := Find(v.input(s), Defaults())
	if len(got) < 2 {
		t.Fatalf("%+v", got)
	}
	for _, f := range got {
		if f.Sensor == "" || f.Kind == "" || f.What == "" || f.Do == "" || f.Sure == "" || !f.From.Before(f.To) ||
			strings.Contains(f.What+f.Do, "NaN") {
			t.Errorf("%+v", f)
		}
	}
}
