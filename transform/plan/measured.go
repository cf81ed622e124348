package plan

import (
	"fmt"
	"math"
	"sort"
	"strings"
)

// MeasureTerms is what one kind of measurement costs. nil = not given here.
type MeasureTerms struct {
	Minutes *float64 `yaml:"minutes,omitempty" json:"minutes,omitempty"` // of labour, each
	Price   *float64 `yaml:"price,omitempty" json:"price,omitempty"`     // of a calibration, a hired meter or materials, each; money
	Lift    *bool    `yaml:"lift,omitempty" json:"lift,omitempty"`       // it needs the visit's lift
	Off     bool     `yaml:"off,omitempty" json:"off,omitempty"`         // nobody here can do it
}

// Kinds of measurements, as Settings.Measure names them. GoingThere is the way to a
// room and back with the meter, once for all that is measured on one visit.
const (
	Recalibrate = "recalibrate" // a sensor, with its as-found gain
	Reference   = "reference"   // a reference meter held beside a sensor
	CleanHalf   = "clean"       // half the fixtures under a sensor, each
	Voltage     = "voltage"     // a logger on a circuit
	Survey      = "survey"      // a canopy survey of a fixture, and of the reference fixture with it
	Lab         = "lab"         // a lamp that comes down, in the laboratory
	GoingThere  = "visit"
)

// measureMinutes are used where the site declares none (common practice, no source).
var measureMinutes = map[string]float64{Recalibrate: 30, Reference: 10, CleanHalf: 6, Voltage: 60, Survey: 20,
	Lab: 20, GoingThere: 15}

// MeasureKinds lists the names, in order.
func MeasureKinds() []string {
	out := make([]string, 0, len(measureMinutes))
	for k := range measureMinutes {
		out = append(out, k)
	}
	sort.Strings(out)
	return out
}

// Expense is what a measurement costs.
type Expense struct {
	Minutes float64  // of labour, the way there included
	Money   float64  // as far as it is priced
	Missing []string // what it would have to be priced by
}

// MeasureOff says whether nobody here can make measurements of a kind.
func (s Settings) MeasureOff(kind string) bool { return s.Measure[kind].Off }

// MeasureCost is that of n measurements of a kind in one room. With there somebody is
// in the room at that time anyway, with its lift.
func (s Settings) MeasureCost(kind, room, lampType string, n int, there bool) Expense {
	t := s.resolve(room, lampType)
	var e Expense
	add := func(kind string, n float64) {
		m := s.Measure[kind]
		minutes := measureMinutes[kind]
		if m.Minutes != nil && *m.Minutes >= 0 {
			minutes = *m.Minutes
		}
		e.Minutes += n * minutes
		if m.Price != nil && *m.Price > 0 {
			e.Money += n * *m.Price
		}
	}
	add(kind, float64(n))
	lift := kind == CleanHalf
	if l := s.Measure[kind].Lift; l != nil {
		lift = *l
	}
	if !there {
		add(GoingThere, 1)
		if lift {
			e.Money += t.visit()
		}
	}
	if math.IsNaN(t.wage) {
		e.Missing = append(e.Missing, "wage_per_hour")
	} else {
		e.Money += e.Minutes * t.wage / 60
	}
	if kind == CleanHalf && !math.IsNaN(t.cleanFixture) && s.Measure[kind].Minutes == nil {
		// its own price stands for its labour
		labour := measureMinutes[kind] * or(t.wage, 0) / 60
		e.Money += float64(n) * (t.cleanFixture - labour)
	}
	return e
}

// Worth is the money by which it is weighed when a lamp is due.
type Worth struct {
	Relamp    float64  // one relamp alone, without the visit; 0 = not known
	LightHour float64  // of a burning hour's light at 100 %; 0 = not known
	Limit     bool     // the threshold is never to be passed
	Risk      float64  // chance taken that the lamp falls under it before its day
	Missing   []string // what is not priced
}

// Worth gives that of one lamp.
func (s Settings) Worth(l Lamp) Worth {
	t := s.resolve(l.Room, l.LampType)
	if l.Area == 0 {
		l.Area = t.area
	}
	v := valueLight(l, t)
	out := Worth{Limit: s.limit(), Risk: s.risk(), LightHour: v.perHour}
	if math.IsNaN(t.lamp) {
		out.Missing = append(out.Missing, "lamp_price")
	} else {
		out.Relamp, _ = t.work(false)
	}
	if v.perHour == 0 {
		out.Missing = append(out.Missing, v.missing...)
	}
	return out
}

// Horizon is how many days the plan looks ahead.
func (s Settings) Horizon() int { return s.horizon() }

// InMoney writes an amount as the plan does.
func (s Settings) InMoney(x float64) string { return s.money(x) }

func (s Settings) validateMeasure(p *problems) {
	for _, k := range sortedKeys(s.Measure) {
		at, m := "measure["+k+"]", s.Measure[k]
		if _, ok := measureMinutes[k]; !ok {
			p.add(at, fmt.Sprintf("no measurement is called %q", k), "write one of: "+strings.Join(MeasureKinds(), ", "))
		}
		for _, x := range []struct {
			name string
			v    *float64
		}{{"minutes", m.Minutes}, {"price", m.Price}} {
			if x.v != nil && (!(*x.v >= 0) || math.IsInf(*x.v, 0)) {
				p.add(at+"."+x.name, fmt.Sprintf("%g is no cost", *x.v), "give 0 or more; it counts as not given meanwhile")
			}
		}
	}
}
