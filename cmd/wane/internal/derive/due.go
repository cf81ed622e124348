package derive

import (
	"context"
	"errors"
	"fmt"
	"sort"
	"strings"

	"wane/ingest/archive"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/survey/surveys"
)

// Due is what is said of one lamp in service.
type Due struct {
	Life      *Life
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
func (d *Due) Surveyed() bool { return d.Posterior != nil && d.Posterior.Surveyed }

// Question is how the lamps are asked.
type Question struct {
	AsOf      int32   // 0: the last day with a reading
	Threshold float64 // 0: the site's own
	Interval  float64 // 0: the site's own
	Gone      int32   // lives that ended on or after this day are answered too; 0: none
	Bare      bool    // nobody asks for the lives' series
}

// Result is one asking: every lamp in service, and all lives.
type Result struct {
	AsOf      int32
	Interval  float64
	Due       []Due // by fixture
	Gone      []Due // lives that ended since Question.Gone, by fixture and life: what is known of them by now
	Lives     []*Life
	Register  *fleet.Register // as of the day
	Notes     []string
	Questions []Unexplained // steps that the logbook does not explain; filled by the batch, see UnexplainedSteps
	// Calibration is what the site's own record of forecasts says of the
	// intervals; its Widen has been applied to them.
	Calibration forecast.Calibration
	Record      *Backtested   // nil where it was not weighed
	Surveys     *surveys.Book // nil where none was taken in
	Lab         *Lab          // nil where no lamp is known by surveys alone
	close       func() error
}

// Close forgets tables that were made for the question alone. The lives' series
// cannot be had after it.
func (r *Result) Close() error {
	if r.close == nil {
		return nil
	}
	return r.close()
}

// Ask forecasts every lamp in service from what was known at the end of the
// day asked for.
func Ask(ctx context.Context, a *archive.Archive, s Site, q Question) (*Result, error) {
	if q.AsOf == 0 {
		last, any := LastDay(a, s)
		if !any {
			return nil, fmt.Errorf("the archive holds no reading; put logger files into inbox/ and run `wane nightly`")
		}
		q.AsOf = last
	}
	t, lives, done, err := known(ctx, a, s, Making{AsOf: q.AsOf, Bare: q.Bare})
	if err != nil {
		return nil, err
	}
	r, err := ask(ctx, a, t, lives, q)
	if err != nil {
		return nil, errors.Join(err, done())
	}
	r.close = done
	return r, nil
}

// ask forecasts from lives with their weeks. a is the archive with the surveys.
func ask(ctx context.Context, a *archive.Archive, t *tables, lives []*Life, q Question) (*Result, error) {
	x, err := asking(ctx, a, t, lives, q)
	if err != nil {
		return nil, err
	}
	fit, err := forecast.Run(&x.fleet.Input, forecast.Options{})
	if err != nil {
		return nil, fmt.Errorf("forecast: %w", err)
	}
	record, cal, err := ownRecord(x.fleet, x.q)
	if err != nil {
		return nil, err
	}
	lab, err := x.surveyed(t.site)
	if err != nil {
		return nil, err
	}
	r := x.answer(append(fit.Posteriors(), lab.posteriors()...), cal)
	r.Record, r.Surveys, r.Lab = record, x.book, lab
	return r, nil
}

// asked is a question with all that its answers rest on.
type asked struct {
	q     Question
	fleet Fleet
	lives []*Life
	reg   *fleet.Register
	gone  map[int]bool // lamps that ended, to be answered all the same

	book      *surveys.Book // nil where no survey was taken in
	reference string        // fixture of the survey rig
}

func asking(ctx context.Context, a *archive.Archive, t *tables, lives []*Life, q Question) (*asked, error) {
	if q.Interval == 0 {
		q.Interval = t.site.Config.Interval
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	x := &asked{q: q, fleet: FleetOf(lives, t.reg, t.site, q.AsOf, q.Interval), lives: lives, reg: t.reg,
		gone: map[int]bool{}, reference: t.site.Config.Survey.Reference}
	var err error
	if x.book, err = bookOf(a, t.site, t.reg, q.AsOf); err != nil {
		return nil, err
	}
	x.fleet.addSurveys(x.book, t.site)
	for i := range x.fleet.Input.Lamps {
		l := &x.fleet.Input.Lamps[i]
		if q.Threshold > 0 {
			l.Threshold = q.Threshold
		}
		if q.Gone > 0 && l.Ended && l.EndDay >= int(q.Gone) {
			l.Ended, x.gone[i] = false, true // as if it still hung: only such lamps are answered
		}
	}
	return x, nil
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
	for _, an := range forecast.Answers(&x.fleet.Input, fitted, forecast.Asking{Interval: x.q.Interval,
		Widen: cal.Widen, Notes: said(cal)}) {
		answers[an.Lamp] = an
	}
	for i, l := range x.fleet.Lives {
		d := Due{Life: l, AsOf: x.q.AsOf, Threshold: x.fleet.Input.Lamps[i].Threshold, Posterior: posterior[i],
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
		if an.Status == forecast.StatusNoData && l.Fixture.ID == x.reference {
			an, d.Reference = bare(i, forecast.StatusNoData, "the reference fixture of the surveys: it burns for them only"), true
		}
		d.Answer, d.Bare, d.Extra = an, an.Reason, l.extra(x.q.AsOf)
		d.Answer.Reason = joinReasons(d.Bare, d.Extra)
		out.Due = append(out.Due, d)
	}
	sort.SliceStable(out.Due, func(i, j int) bool { return out.Due[i].Life.Fixture.ID < out.Due[j].Life.Fixture.ID })
	return out
}

// current says whether the life's lamp still hangs: burning, or dark and not
// replaced.
func current(l *Life, reg *fleet.Register) bool {
	return (l.InService() || l.Dark()) && !reg.Retired(l.Fixture)
}

// nothing is the answer of a lamp that the forecast could not take in.
func nothing(lamp int, l *Life) forecast.Answer {
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

// silentDays is after how many days without a reading a lamp's logger counts
// as silent.
const silentDays = 3

// Silent says for how many days nothing has read the lamp's light; 0 while it
// is read.
func (l *Life) Silent(asOf int32) int {
	if l.LastRead == 0 || l.Dark() {
		return 0
	}
	if n := int(asOf - l.LastRead); n >= silentDays {
		return n
	}
	return 0
}

// extra is what the record itself adds to the forecast's words.
func (l *Life) extra(asOf int32) string {
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
