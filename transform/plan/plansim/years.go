package plansim

import (
	"math"
	"time"

	"wane/transform/estimate"
	"wane/transform/plan"
)

// Policy is a way of keeping lamps.
type Policy int

// The ways compared.
const (
	FollowPlan Policy = iota // the plan, made again each quarter
	FixedHours               // all lamps of a room at fixed hours, failures as they occur
	OnFailure                // lamps as they fail, nothing else
)

// Outcome is what some years under a policy cost.
type Outcome struct {
	Total   float64 // work + value of light lost - gain in the lamps' own value
	Work    float64 // lamps, labour, lifts, disposal, cleaning
	Light   float64 // value of the light lost
	Left    float64 // straight-line value of the lamps at the end less that at the start
	LostMol float64
	Visits  int
	Lamps   int // lamps used
	Dark    int // failures
}

// CleanEach is the days between the habits' cleanings: common practice, no source.
const CleanEach = 365

const (
	review   = 91  // days between plans
	dirtDays = 220 // dirt settles as 1-exp(-t/220)
	regain   = 0.82
	waitDays = 7
)

var start = time.Date(2027, 1, 4, 0, 0, 0, 0, time.UTC)

type fixture struct {
	lamp
	n         int // lamp life
	age       float64
	dark      int // day since which it is dark, -1 = burning
	room, pos int
}

type world struct {
	Site
	fix    []*fixture
	dirt   []float64 // per room, 0..1 of settled
	amp    []float64 // settled dirt's share of light
	begun  []float64 // each lamp's age at the start
	group  []float64 // hours since the room's last group relamp
	clean  []int     // day of the room's last cleaning
	out    Outcome
	perHr  float64 // money an hour at full loss
	molHr  float64
	lifted map[[2]int]bool
}

// Best is a habit with yearly cleaning or none, whichever costs less: what a
// site that keeps the habit can make of it.
func (s Site) Best(p Policy, years int) Outcome {
	a, b := s.Run(p, years, CleanEach), s.Run(p, years, 0)
	if b.Total < a.Total {
		return b
	}
	return a
}

// Run lives through the years. cleanEvery is the days between the habits'
// cleanings, 0 for none; following the plan cleans when the plan says so.
func (s Site) Run(p Policy, years, cleanEvery int) Outcome {
	w := s.world()
	var todo []plan.Visit
	for d := 0; d < years*365; d++ {
		if p == FollowPlan {
			if d%review == 0 {
				todo = plan.Make(w.input(d)).Visits
			}
			w.follow(d, todo)
		} else {
			for r := range w.dirt {
				if cleanEvery > 0 && d-w.clean[r] >= cleanEvery {
					w.cleanRoom(d, r)
				}
			}
		}
		for r := range w.group {
			if p == FixedHours && w.group[r] >= s.Fixed {
				for _, f := range w.fix {
					if f.room == r {
						w.relamp(d, f, true)
					}
				}
				w.group[r] = 0
			}
		}
		w.burn(d)
	}
	return w.close()
}

func (s Site) world() *world {
	w := &world{Site: s, lifted: map[[2]int]bool{}}
	r := responses[s.Crop]
	w.perHr = s.Value * s.Area * s.Share * (r.Min + r.Max) / 2 / (s.Burn * 365.25)
	w.molHr = s.PPFD * s.Area * 3600 / 1e6
	for r := 0; r < s.Rooms; r++ {
		w.dirt = append(w.dirt, 0.5)
		w.amp = append(w.amp, s.Dirt*(0.6+0.4*float64(r)))
		w.clean = append(w.clean, -100)
		w.group = append(w.group, s.Fixed*(0.15+0.25*float64(r)))
		for i := 0; i < s.PerRoom; i++ {
			f := &fixture{lamp: s.draw(r, i, 1), n: 1, dark: -1, room: r, pos: i}
			// Each fourth lamp has been changed since the room was done.
			f.age = w.group[r]
			if i%4 == 3 {
				f.age *= 0.4
			}
			// The lamp is one that has lived so far.
			for f.life <= f.age {
				f.n++
				f.lamp = s.draw(r, i, f.n)
			}
			w.fix = append(w.fix, f)
			w.begun = append(w.begun, f.age)
		}
	}
	return w
}

// responses are the published ranges of the crops invented here; the sites'
// truth lies in their middle.
var responses = map[string]plan.Range{
	"fruit vegetables": {Min: 0.7, Max: 1}, "cut flowers": {Min: 0.6, Max: 1}, "flowering pot plants": {Min: 0.5, Max: 1},
	"soil-grown vegetables": {Min: 0.8, Max: 1}, "most crops (headline)": {Min: 0.5, Max: 1},
}

func (w *world) burn(d int) {
	for r := range w.dirt {
		w.dirt[r] += (1 - w.dirt[r]) / dirtDays
		w.group[r] += w.Burn
	}
	for _, f := range w.fix {
		lost := 1.0
		if f.dark < 0 {
			lost = 1 - (1-math.Min(1, f.slope*f.age))*(1-w.amp[f.room]*w.dirt[f.room])
			f.age += w.Burn
			if f.age >= f.life {
				f.dark = d
				w.out.Dark++
			}
		} else if d-f.dark >= waitDays {
			w.relamp(d, f, false)
		}
		w.out.Light += w.perHr * lost * w.Burn
		w.out.LostMol += w.molHr * lost * w.Burn
	}
}

func (w *world) relamp(d int, f *fixture, group bool) {
	t := w.Settings.Site
	minutes := *t.LabourSpotMin
	if group {
		minutes = *t.LabourGroupMin
	}
	w.out.Work += *t.LampPrice + minutes**t.WagePerHour/60 + *t.DisposalPerLamp
	if key := [2]int{d, f.room}; !w.lifted[key] {
		w.lifted[key] = true
		w.out.Work += *t.LiftPerVisit
		w.out.Visits++
	}
	w.out.Lamps++
	f.n++
	f.lamp, f.age, f.dark = w.draw(f.room, f.pos, f.n), 0, -1
}

func (w *world) cleanRoom(d, r int) {
	t := w.Settings.Site
	w.out.Work += *t.CleanPerRoom + *t.CleanPerFixture*float64(w.PerRoom)
	w.dirt[r] *= 1 - regain
	w.clean[r] = d
}

// close adds what the lamps have gained or lost in worth: a straight line over the age at which linear
// fade and price balance, sqrt(2C/(v a)), the same for every policy.
func (w *world) close() Outcome {
	t := w.Settings.Site
	c := *t.LampPrice + *t.LabourGroupMin**t.WagePerHour/60
	full := math.Min(math.Sqrt(2*c/(w.perHr*w.Fade)), w.Eta)
	for i, f := range w.fix {
		w.out.Left -= c * math.Max(0, 1-w.begun[i]/full)
		if f.dark < 0 {
			w.out.Left += c * math.Max(0, 1-f.age/full)
		}
	}
	w.out.Total = w.out.Work + w.out.Light - w.out.Left
	return w.out
}

// follow does what the plan in hand says for the day. A lamp changed since the
// plan was made is left alone.
func (w *world) follow(d int, visits []plan.Visit) {
	today := start.AddDate(0, 0, d)
	for _, v := range visits {
		if !v.Date.Equal(today) {
			continue
		}
		for _, item := range v.Work {
			r := int(v.Room[0] - 'A')
			if item.Do == plan.Clean {
				w.cleanRoom(d, r)
				continue
			}
			for _, f := range w.fix {
				if f.room == r && name(f) == item.Fixture && f.n == item.Life {
					w.relamp(d, f, item.Do == plan.GroupRelamp)
				}
			}
		}
	}
}

func name(f *fixture) string {
	return string(rune('A'+f.room)) + string(rune('0'+f.pos/10)) + string(rune('0'+f.pos%10))
}

// input is what the site knows on day d.
func (w *world) input(d int) plan.Input {
	in := plan.Input{AsOf: start.AddDate(0, 0, d), Seed: w.Seed, Settings: w.Settings}
	for r := range w.dirt {
		in.Rooms = append(in.Rooms, plan.Room{Name: string(rune('A' + r)), LastCleaned: start.AddDate(0, 0, w.clean[r])})
	}
	for _, f := range w.fix {
		l := plan.Lamp{
			Fixture: name(f), Life: f.n, Room: string(rune('A' + f.room)), Bay: string(rune('1' + f.pos/10)),
			LampType: w.LampType,
			HoursNow: f.age, BurnPerDay: w.Burn, Threshold: w.Threshold, PPFD: w.PPFD, Area: w.Area, PowerW: w.PowerW,
			RatedW:    w.PowerW,
			DeclineKh: estimate.None("", ""), Status: "forecast",
			Hazard: plan.Weibull{Eta: estimate.Estimate{Centre: w.Eta * w.EtaError, Lo: w.Eta * w.EtaError * 0.82,
				Hi: w.Eta * w.EtaError * 1.21, Level: 0.8, N: 30}, Beta: w.Beta},
		}
		dirt := w.amp[f.room] * w.dirt[f.room]
		level := (1 - math.Min(1, f.slope*f.age)) * (1 - dirt)
		l.Level = estimate.Estimate{Centre: level, Lo: level - 0.01, Hi: level + 0.01, Level: 0.8, N: 90}
		if loss := 1 - level; loss > 0.001 {
			// The site's guess at dirt errs by a fifth, as its forecast errs.
			g := math.Min(1, dirt/loss*math.Exp(0.2*math.Max(-2, math.Min(2, f.z))))
			l.DirtShare = estimate.Estimate{Centre: g, Lo: 0.7 * g, Hi: math.Min(1, 1.3*g), Level: 0.8, N: 90}
		} else {
			l.DirtShare = estimate.None("", "")
		}
		switch {
		case f.dark >= 0:
			l.Status, l.Level = "dark", estimate.None("dark", "dark")
		case f.age < 1000:
			l.Status, l.Reason = "too-early", "less than 1,000 h"
		default:
			sd := forecastSd(f.age)
			h := (1 - w.Threshold) / f.slope * math.Exp(sd*f.z)
			l.Due = plan.Due{Hours: h, LoHours: h * math.Exp(-1.2816*sd), HiHours: h * math.Exp(1.2816*sd), Interval: 0.8}
			if h <= f.age {
				l.Status = "under"
			}
		}
		in.Lamps = append(in.Lamps, l)
	}
	return in
}

// forecastSd is the spread of ln(forecast/truth) of a crossing hour by age,
// from the measured median errors of the pooled model (.161, .126, .096, .098
// at 2,500, 5,000, 8,000 and 15,000 h) over .6745.
func forecastSd(age float64) float64 {
	at, sd := []float64{2500, 5000, 8000, 15000}, []float64{.239, .187, .142, .145}
	if age <= at[0] {
		return sd[0]
	}
	for i := 1; i < len(at); i++ {
		if age < at[i] {
			return sd[i-1] + (sd[i]-sd[i-1])*(age-at[i-1])/(at[i]-at[i-1])
		}
	}
	return sd[len(sd)-1]
}
