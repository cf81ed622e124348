package yearly

import (
	"fmt"
	"sort"

	"wane/transform/estimate"
	"wane/transform/survival"
	"wane/transform/survival/exact"
)

// MaintenanceHours are the run-hours at which levels are compared.
var MaintenanceHours = []float64{2000, 5000, 10000, 15000, 20000}

// qLevels are the levels whose hours are asked: Q90, Q80, Q70.
var qLevels = []float64{0.9, 0.8, 0.7}

// Maintained is how the lamps of one lamp type and make kept their light.
type Maintained struct {
	LampType string       `json:"lamp_type"`
	Make     string       `json:"make"`
	Lamps    int          `json:"lamps"`    // with weekly levels
	Late     int          `json:"left_out"` // first read too late for a baseline when new
	Levels   []LevelAt    `json:"levels"`
	Hours    []HoursTo    `json:"hours_to"`
	Curve    []CurvePoint `json:"-"`
}

// LevelAt is the spread of levels among lamps at run-hours.
type LevelAt struct {
	Hours float64 `json:"hours"`
	Lamps int     `json:"lamps"`
	P10   Value   `json:"p10"`
	P50   Value   `json:"p50"`
	P90   Value   `json:"p90"`
}

// HoursTo is by which run-hours the tenth, the half and nine tenths of the
// lamps have come down to a level.
type HoursTo struct {
	Level   float64 `json:"level"`
	Lamps   int     `json:"lamps"`
	Reached int     `json:"reached"`
	P10     Value   `json:"hours_p10"`
	P50     Value   `json:"hours_p50"`
	P90     Value   `json:"hours_p90"`
}

// CurvePoint is the median level of a make at run-hours, with its limits where
// there are lamps enough.
type CurvePoint struct {
	Hours, Median, Lo, Hi float64
	Lamps                 int
}

// curveStep is the run-hours between two points of a make's curve.
const curveStep = 250

// maintenance gives the levels of each make.
func (in *Input) maintenance(ws []watched) ([]Maintained, error) {
	type key struct{ t, m string }
	by := map[key][]*watched{}
	for i := range ws {
		if w := &ws[i]; len(w.smooth) > 0 {
			for _, k := range []key{{string(w.LampType), ""}, {string(w.LampType), known(w.Model)}} {
				by[k] = append(by[k], w)
			}
		}
	}
	keys := make([]key, 0, len(by))
	for k := range by {
		keys = append(keys, k)
	}
	sort.Slice(keys, func(i, j int) bool {
		if a, b := typeRank(keys[i].t), typeRank(keys[j].t); a != b {
			return a < b
		}
		if keys[i].t != keys[j].t {
			return keys[i].t < keys[j].t
		}
		return keys[i].m < keys[j].m
	})
	var out []Maintained
	for _, k := range keys {
		m, err := in.maintained(k.t, k.m, by[k])
		if err != nil {
			return nil, fmt.Errorf("maintenance of %s %s: %w", k.t, k.m, err)
		}
		out = append(out, m)
	}
	return out, nil
}

func (in *Input) maintained(lampType, maker string, ws []*watched) (Maintained, error) {
	m := Maintained{LampType: lampType, Make: maker}
	var fit []*watched
	oldest := 0.0
	for _, w := range ws {
		if w.late {
			m.Late++
			continue
		}
		fit = append(fit, w)
		oldest = max(oldest, w.smooth[len(w.smooth)-1].Hours)
	}
	m.Lamps = len(fit)
	at := func(h float64) []float64 {
		var v []float64
		for _, w := range fit {
			if l := levelAt(w.smooth, h); estimate.Finite(l) {
				v = append(v, l)
			}
		}
		return v
	}
	for _, h := range MaintenanceHours {
		v := at(h)
		if len(v) == 0 {
			continue
		}
		l := LevelAt{Hours: h, Lamps: len(v)}
		gone := 0
		for _, w := range fit {
			gone += one(w.Exit < h && w.Ended != "")
		}
		for _, q := range []struct {
			p    float64
			into *Value
		}{{0.1, &l.P10}, {0.5, &l.P50}, {0.9, &l.P90}} {
			*q.into = in.quantile(v, q.p)
			if gone > 0 {
				q.into.Estimate = q.into.Warn(fmt.Sprintf("lamps taken out or failed before these hours, and so not among them: %d",
					gone))
			}
		}
		m.Levels = append(m.Levels, l)
	}
	for _, q := range qLevels {
		ht, err := in.hoursTo(q, fit)
		if err != nil {
			return m, err
		}
		m.Hours = append(m.Hours, ht)
	}
	for h := float64(curveStep); h <= oldest; h += curveStep {
		v := at(h)
		if len(v) == 0 {
			continue
		}
		q := in.quantile(v, 0.5)
		p := CurvePoint{Hours: h, Median: q.Centre, Lo: q.Lo, Hi: q.Hi, Lamps: len(v)}
		if !q.Bounded() {
			p.Lo, p.Hi = nan, nan
		}
		m.Curve = append(m.Curve, p)
	}
	return m, nil
}

func (in *Input) quantile(v []float64, p float64) Value {
	e, err := exact.Quantile(v, p, in.Level)
	return orNone(e, err, "order statistics")
}

// hoursTo takes the first smoothed week under a level as the event, and a lamp
// that never came down to it as censored at its last week.
func (in *Input) hoursTo(q float64, ws []*watched) (HoursTo, error) {
	out := HoursTo{Level: q}
	units := make([]survival.Unit, 0, len(ws))
	for _, w := range ws {
		u := survival.Unit{Exit: w.smooth[len(w.smooth)-1].Hours}
		if under, ok := firstUnder(w.smooth, q); ok {
			u.Exit, u.Failed = under.Hours, true
			out.Reached++
		}
		units = append(units, u)
	}
	out.Lamps = len(units)
	const method = "Kaplan-Meier of first passages"
	if len(units) == 0 {
		v := none(method, "no lamp with levels since it was new")
		out.P10, out.P50, out.P90 = v, v, v
		return out, nil
	}
	c, err := survival.KaplanMeier(units, survival.LogLog, in.Level)
	if err != nil {
		return out, err
	}
	for _, a := range []struct {
		p    float64
		into *Value
	}{{0.1, &out.P10}, {0.5, &out.P50}, {0.9, &out.P90}} {
		*a.into = Value{c.Quantile(a.p)}
		a.into.Method = method
	}
	return out, nil
}

// Share is how the light that the lamps of one type have lost divides.
type Share struct {
	LampType string `json:"lamp_type"`
	Lamps    int    `json:"lamps"`
	Lamp     Value  `json:"lamp"`
	Dirt     Value  `json:"dirt"`
	Sensor   Value  `json:"sensor"`
}

// shares averages over lamps now in service.
func (in *Input) shares(now []Forecast, lampType func(*Forecast) string) []Share {
	by := map[string][]*Forecast{}
	for i := range now {
		if f := &now[i]; f.Lamp.Known() {
			by[lampType(f)] = append(by[lampType(f)], f)
		}
	}
	var out []Share
	for _, t := range types(by) {
		list := by[t]
		mean := func(of func(*Forecast) Value) Value {
			e := estimate.Estimate{Level: in.Interval, N: len(list), Method: "mean over lamps of the pooled ageing model",
				Warnings: []string{"the interval is as wide as if all lamps erred alike"}}
			for _, f := range list {
				v := of(f)
				e.Centre += v.Centre / float64(len(list))
				e.Lo += v.Lo / float64(len(list))
				e.Hi += v.Hi / float64(len(list))
			}
			if !estimate.Finite(e.Centre) || !estimate.Finite(e.Lo) || !estimate.Finite(e.Hi) {
				return none(e.Method, "not known for some of the lamps")
			}
			return Value{e}
		}
		out = append(out, Share{t, len(list), mean(func(f *Forecast) Value { return f.Lamp }),
			mean(func(f *Forecast) Value { return f.Dirt }), mean(func(f *Forecast) Value { return f.Sensor })})
	}
	return out
}

// Efficacy is light at the sensors per electrical power at both ends of the
// year.
type Efficacy struct {
	LampType string `json:"lamp_type"`
	Fixtures int    `json:"fixtures"`
	Start    Value  `json:"start"` // umol/m2/s a watt
	End      Value  `json:"end"`
	Change   Value  `json:"change"` // share
}

func (in *Input) efficacy() []Efficacy {
	by := map[string][][2]float64{}
	for i := range in.Fixtures {
		f := &in.Fixtures[i]
		if f.LightPerWatt[0] > 0 && f.LightPerWatt[1] > 0 && estimate.Finite(f.LightPerWatt[0]) &&
			estimate.Finite(f.LightPerWatt[1]) {
			by[string(f.LampType)] = append(by[string(f.LampType)], f.LightPerWatt)
		}
	}
	var out []Efficacy
	for _, t := range types(by) {
		var a, b, c []float64
		for _, v := range by[t] {
			a, b, c = append(a, v[0]), append(b, v[1]), append(c, v[1]/v[0]-1)
		}
		e := Efficacy{t, len(a), in.quantile(a, 0.5), in.quantile(b, 0.5), in.quantile(c, 0.5)}
		e.Change.Estimate = e.Change.Warn("light at the sensor, not the flux of the whole fixture; relamped and cleaned fixtures included")
		out = append(out, e)
	}
	return out
}
