package due

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/lamp"
	"wane/transform/plan"
	"wane/transform/survey/surveys"
	"wane/transform/unexplained"
)

// Lamp is what is said of one lamp in service.
type Lamp struct {
	Life      *lamp.Life
	AsOf      int32
	Threshold float64
	Answer    forecast.Answer
	Posterior *forecast.Posterior // nil where the lamp has no usable week
	Interval  float64
	Bare      string // the forecast's own reason
	Extra     string // what the record adds to it
	Reference bool   // the reference fixture of the surveys: it needs no date
}

// Surveyed says whether the answer rests on canopy surveys alone.
func (d *Lamp) Surveyed() bool { return d.Posterior != nil && d.Posterior.Surveyed }

// Question is how the lamps are asked.
type Question struct {
	AsOf      int32   // 0, where an archive is asked: the last day with a reading
	Threshold float64 // 0: the site's own
	Interval  float64 // 0: the site's own
	Gone      int32   // lives that ended on or after this day are answered too; 0: none
	Bare      bool    // nobody asks for the lives' series
	Fit       bool    // the fit is asked too, see Result.Fit
}

// Result is one asking: every lamp in service, and all lives.
type Result struct {
	AsOf      int32
	Interval  float64
	Due       []Lamp // by fixture
	Gone      []Lamp // lives that ended since Question.Gone, by fixture and life: what is known of them by now
	Lives     []*lamp.Life
	Register  *fleet.Register                    // as of the day
	Alone     map[*lamp.Life]*forecast.Posterior // the lamp alone, of every life with a usable week, ended ones too
	Notes     []string
	Questions []unexplained.Question // by the fit that the answers rest on
	// Calibration is what the site's own record of forecasts says of the
	// intervals; its Widen has been applied to them.
	Calibration forecast.Calibration
	Record      *Backtested   // nil where it was not weighed
	Surveys     *surveys.Book // nil where none was taken in
	Lab         *Lab          // nil where no lamp is known by surveys alone
	// Fit and Fleet are what the answers were made by; nil unless asked for, since they
	// hold much.
	Fit   *forecast.Fit
	Fleet *Fleet
}

// Ask forecasts every lamp in service from lives with their weeks, as of the day
// asked for; book is of the canopy surveys taken up to then.
func Ask(lives []*lamp.Life, reg *fleet.Register, rules lamp.Rules, book *surveys.Book, q Question) (*Result, error) {
	x := asking(lives, reg, rules, book, q)
	fit, err := forecast.Run(&x.fleet.Input, forecast.Options{})
	if err != nil {
		return nil, fmt.Errorf("forecast: %w", err)
	}
	record, cal, err := ownRecord(x.fleet, x.q)
	if err != nil {
		return nil, err
	}
	return x.by(fit, record, cal)
}

// Asking is a question whose lamps are fitted elsewhere, with those of other sites.
type Asking struct{ *asked }

// Prepare is Ask up to the fit.
func Prepare(lives []*lamp.Life, reg *fleet.Register, rules lamp.Rules, book *surveys.Book, q Question) Asking {
	return Asking{asking(lives, reg, rules, book, q)}
}

// Input is what is to be fitted.
func (x Asking) Input() *forecast.Input { return &x.fleet.Input }

// By is Ask from the fit on. cal is what the site's own record of forecasts says; where
// that is nil it is weighed.
func (x Asking) By(fit *forecast.Fit, cal *forecast.Calibration) (*Result, error) {
	if cal != nil {
		return x.by(fit, nil, *cal)
	}
	record, own, err := ownRecord(x.fleet, x.q)
	if err != nil {
		return nil, err
	}
	return x.by(fit, record, own)
}

// by answers by a fit of the fleet.
func (x *asked) by(fit *forecast.Fit, record *Backtested, cal forecast.Calibration) (*Result, error) {
	lab, err := x.surveyed()
	if err != nil {
		return nil, err
	}
	all := append(fit.PosteriorsOfAll(), lab.posteriors()...)
	r := x.answer(slices.DeleteFunc(slices.Clone(all), func(p forecast.Posterior) bool { return p.Ended }), cal)
	r.Alone = x.alone(all)
	r.Record, r.Surveys, r.Lab = record, x.book, lab
	r.Questions = unexplained.Questions(fit.Found(), unexplained.Fleet{Lives: x.fleet.Lives, Sensors: x.fleet.Sensors},
		x.reg, x.rules.Location)
	r.settle(fit, &x.fleet, plan.Settings{Measure: x.rules.Measure})
	if x.q.Fit {
		r.Fit, r.Fleet = fit, &x.fleet
	}
	return r, nil
}

// asked is a question with all that its answers rest on.
type asked struct {
	q     Question
	fleet Fleet
	lives []*lamp.Life
	reg   *fleet.Register
	gone  map[int]bool // lamps that ended, to be answered all the same

	rules lamp.Rules
	book  *surveys.Book // nil where no survey was taken in
}

func asking(lives []*lamp.Life, reg *fleet.Register, rules lamp.Rules, book *surveys.Book, q Question) *asked {
	if q.Interval == 0 {
		q.Interval = rules.Interval
	}
	x := &asked{q: q, fleet: FleetOf(lives, reg, rules, q.AsOf, q.Interval), lives: lives, reg: reg,
		gone: map[int]bool{}, rules: rules, book: book}
	x.fleet.addSurveys(book, rules)
	for i := range x.fleet.Input.Lamps {
		l := &x.fleet.Input.Lamps[i]
		if q.Threshold > 0 {
			l.Threshold = q.Threshold
		}
		if q.Gone > 0 && l.Ended && l.EndDay >= int(q.Gone) {
			l.Ended, x.gone[i] = false, true // as if it still hung: only such lamps are answered
		}
	}
	return x
}

// alone gives every life's posterior.
func (x *asked) alone(all []forecast.Posterior) map[*lamp.Life]*forecast.Posterior {
	out := make(map[*lamp.Life]*forecast.Posterior, len(all))
	for i := range all {
		out[x.fleet.Lives[all[i].Lamp]] = &all[i]
	}
	return out
}

// answer asks every lamp by a fit.
func (x *asked) answer(fitted []forecast.Posterior, cal forecast.Calibration) *Result {
	out := &Result{AsOf: x.q.AsOf, Interval: x.q.Interval, Lives: x.lives, Register: x.reg, Notes: x.fleet.Notes,
		Calibration: cal}
	posterior := map[int]*forecast.Posterior{}
	for i := range fitted {
		p := &fitted[i]
		p.At(&x.fleet.Input)
		posterior[p.Lamp] = p
	}
	answers := map[int]forecast.Answer{}
	for _, an := range forecast.Answers(&x.fleet.Input, fitted, forecast.Asking{Interval: x.q.Interval}.Recorded(cal)) {
		answers[an.Lamp] = an
	}
	for i, l := range x.fleet.Lives {
		d := Lamp{Life: l, AsOf: x.q.AsOf, Threshold: x.fleet.Input.Lamps[i].Threshold, Posterior: posterior[i],
			Interval: x.q.Interval}
		if x.gone[i] {
			d.Answer = answers[i]
			out.Gone = append(out.Gone, d)
		}
		if !current(l, x.reg) {
			continue
		}
		an, ok := answers[i]
		if !ok || an.Status == forecast.StatusNoData && len(l.Light) == 0 {
			an = nothing(i, l)
		}
		if an.Status == forecast.StatusNoData && l.Fixture.ID == x.rules.Reference {
			an, d.Reference = bare(i, forecast.StatusNoData, "the reference fixture of the surveys: it burns for them only"),
				true
		}
		d.Answer, d.Bare, d.Extra = an, an.Reason, extra(l, x.q.AsOf)
		d.Answer.Reason = joinReasons(d.Bare, d.Extra)
		out.Due = append(out.Due, d)
	}
	sort.SliceStable(out.Due, func(i, j int) bool { return out.Due[i].Life.Fixture.ID < out.Due[j].Life.Fixture.ID })
	return out
}

// current says whether the life's lamp still hangs: burning, or dark and not
// replaced.
func current(l *lamp.Life, reg *fleet.Register) bool {
	return (l.InService() || l.Dark()) && !reg.Retired(l.Fixture)
}

// nothing is the answer of a lamp that the forecast could not take in.
func nothing(lamp int, l *lamp.Life) forecast.Answer {
	if l.Dark() {
		return bare(lamp, forecast.StatusDark, "the lamp is dark")
	}
	return bare(lamp, forecast.StatusNoData, "neither a logger nor a canopy survey has read this lamp")
}

// bare is an answer that claims nothing.
func bare(lamp int, status forecast.Status, why string) forecast.Answer {
	none := estimate.None(forecast.Method, why)
	return forecast.Answer{Lamp: lamp, Status: status, Reason: why, Level: none, DueHours: none, DueDay: none,
		Decline: forecast.Shares{Lamp: none, Dirt: none, Sensor: none}}
}

// extra is what the record itself adds to the forecast's words.
func extra(l *lamp.Life, asOf int32) string {
	var parts []string
	if n := l.Silent(asOf); n > 0 {
		parts = append(parts, fmt.Sprintf("no reading of its light for %d days", n))
	}
	if l.Dark() {
		parts = append(parts, "logged as failed on "+l.To.Format("2006-01-02"))
	}
	if len(l.Base.Baseline.Warnings) > 0 && l.Base.Baseline.Known() {
		parts = append(parts, l.Base.Baseline.Warnings...)
	}
	return strings.Join(parts, "; ")
}

// joinReasons puts two reasons into one; either may be empty.
func joinReasons(a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + "; " + b
}
