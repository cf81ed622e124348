package yearly

import (
	"fmt"
	"math"

	"wane/transform/estimate"
	"wane/transform/fleet"
)

// Verdict is what can be said of a claim.
type Verdict string

// The verdicts.
const (
	Stands   Verdict = "stands"   // the whole interval lies under the warranted level
	Open     Verdict = "open"     // the interval holds the warranted level
	Measured Verdict = "measured" // under it as read, but dirt and drift cannot be told from ageing
)

// Claim is one lamp under its warranted level inside its warranted hours.
type Claim struct {
	Fixture     string  `json:"fixture"`
	LampLife    int     `json:"lamp_life"`
	LampType    string  `json:"lamp_type"`
	Make        string  `json:"make"`
	Cohort      string  `json:"cohort"`
	Warranted   float64 `json:"warranted_level"`
	Hours       float64 `json:"warranted_hours"`
	Description string  `json:"terms"`
	Path        string  `json:"terms_from"` // where in site.yaml
	AtHours     float64 `json:"at_hours"`   // run-hours at which it was judged
	Unsure      float64 `json:"at_hours_plus_minus"`
	Level       Value   `json:"level"`
	Loss        Value   `json:"loss"`
	Dark        bool    `json:"dark"` // it failed
	Verdict     Verdict `json:"verdict"`
	Say         string  `json:"say"`
}

// claims judges every warranted lamp that was in service in the year.
func (in *Input) claims(ws []watched, index map[lifeKey]*Forecast) (out []Claim, promised int) {
	year := Span{in.First, min(in.Last, in.AsOf)}
	for i := range ws {
		w := &ws[i]
		if w.Warranty == nil || !(w.Left == 0 || year.holds(w.Left)) {
			continue
		}
		promised++
		if c, ok := in.claim(w, index[lifeKey{w.Fixture, w.N}]); ok {
			out = append(out, c)
		}
	}
	return out, promised
}

func (in *Input) claim(w *watched, f *Forecast) (Claim, bool) {
	t := w.Warranty
	c := Claim{Fixture: w.Fixture, LampLife: w.N, LampType: string(w.LampType), Make: w.Model, Cohort: w.Cohort,
		Warranted: t.Level,
		Hours:     t.Hours, Description: t.Description, Path: t.Path, AtHours: math.Min(w.Exit, t.Hours), Unsure: w.Unsure}
	switch {
	case w.Ended == fleet.Fail && w.Exit < t.Hours:
		c.AtHours, c.Dark = w.Exit, true
		e := estimate.Estimate{Level: in.Level, N: 1, Method: "logbook: the lamp failed"}
		c.Level = Value{e}
		c.Verdict, c.Say = Stands, fmt.Sprintf("failed (%s) at %.0f of %.0f warranted hours; no light is under any level",
			known(w.Mode), w.Exit, t.Hours)
		if w.Exit+w.Unsure > t.Hours {
			c.Verdict, c.Say = Open, fmt.Sprintf("failed at %.0f h, but the record of its hours leaves it open whether the warranted %.0f h had run", w.Exit, t.Hours)
		}
	case f != nil && f.Warranted.Known():
		c.Level = f.Warranted
		if !(c.Level.Centre < t.Level) {
			return c, false
		}
		c.Verdict = Open
		c.Say = fmt.Sprintf("under %.2f by the centre alone: the interval reaches up to %.3f", t.Level, c.Level.Hi)
		if c.Level.Hi < t.Level {
			c.Verdict = Stands
			c.Say = fmt.Sprintf("at %.0f h the whole interval lies under %.2f, dirt and drift of the sensor taken out",
				c.AtHours, t.Level)
		}
	default:
		var under Week
		ok := false
		for _, k := range w.smooth {
			if k.Hours <= t.Hours && k.Level < t.Level {
				under, ok = k, true
			}
		}
		if !ok || w.late {
			return c, false
		}
		c.AtHours = under.Hours
		c.Level = Value{estimate.Estimate{Centre: under.Level, Lo: math.Inf(-1), Hi: math.Inf(1), Level: in.Level,
			N:      len(w.smooth),
			Method: "smoothed weekly level", Warnings: []string{"no forecast knows this lamp: the part of dirt and drift in the loss is open"}}}
		c.Verdict, c.Say = Measured, "under the warranted level as read; dirt and drift are not taken out, so the claim is not settled"
	}
	c.Loss = Value{loss(c.Level.Estimate)}
	return c, true
}

// loss turns a level into what was lost.
func loss(level estimate.Estimate) estimate.Estimate {
	l := level
	l.Centre, l.Lo, l.Hi = 1-level.Centre, 1-level.Hi, 1-level.Lo
	return l
}

type lifeKey struct {
	fixture string
	n       int
}

func indexOf(list []Forecast) map[lifeKey]*Forecast {
	out := make(map[lifeKey]*Forecast, len(list))
	for i := range list {
		out[lifeKey{list[i].Fixture, list[i].Life}] = &list[i]
	}
	return out
}
