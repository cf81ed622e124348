package derive

import (
	"encoding/json"
	"fmt"
	"math"

	"wane/ingest/archive"
	"wane/transform/forecast"
)

// TableDue holds, with table posteriors, what is needed to answer when each lamp
// is due, for any threshold, without the history: a row a lamp in service, as
// the nightly left it.
const TableDue = "due"

// Line is one row of the answer to "when is each lamp due".
type Line struct {
	Fixture, LampType, Cohort string
	LampLife                  int
	AsOf                      int32
	Threshold, RunHours       float64
	Interval                  float64
	Answer                    forecast.Answer
}

// Lines gives the answers as rows, by fixture.
func (r *Result) Lines() []Line {
	out := make([]Line, len(r.Due))
	for i, d := range r.Due {
		out[i] = Line{
			Fixture: d.Life.Fixture.ID, LampType: string(d.Life.LampType), Cohort: d.Life.Cohort, LampLife: d.Life.N,
			AsOf: d.AsOf, Threshold: d.Threshold, RunHours: d.Life.HoursNow(), Interval: d.Interval, Answer: d.Answer,
		}
	}
	return out
}

// state is what is stored of one lamp besides its plain columns and the fit.
type state struct {
	Burn   forecast.Burn   `json:"burn"`
	Dark   bool            `json:"dark,omitempty"`
	Status forecast.Status `json:"status,omitempty"` // where there is no posterior
	Why    string          `json:"why,omitempty"`
	Extra  string          `json:"extra,omitempty"` // what the record adds to the reason
}

// stateKey is what the stored answers depend on; "" where the site's own files
// are not known by their content.
func stateKey(a *archive.Archive, s Site, asOf int32) string {
	if s.Hash == "" {
		return ""
	}
	return archive.Key(append(a.Parts(TableDaily), a.Parts(archive.Files)...), TableDue, Version, s.Hash, fmt.Sprint(asOf))
}

// Store keeps what due needs, for the site's own interval.
func Store(l *archive.Lock, a *archive.Archive, s Site, r *Result) (*archive.Archive, error) {
	d, err := archive.Derive(l, TableDue, TablePosteriors, TablePast)
	if err != nil {
		return nil, err
	}
	key := stateKey(a, s, r.AsOf)
	if key == "" || r.Interval != s.Config.Interval {
		return d.Archive(), nil
	}
	switch {
	case r.Fit.Key != "":
	case r.HasLevels(): // and so its fit was not asked for by what it saw
		r.Fit.Key = archive.Key(nil, TablePosteriors, key)
	default:
		r.Fit.Key = fitKey(&r.asked.fleet, r.asked.q)
	}
	if err := r.Fit.store(d); err != nil {
		return nil, err
	}
	if d.Keep(TableDue, "", key) {
		return d.Commit()
	}
	lines := r.Lines()
	fixture := func(i int) string { return lines[i].Fixture }
	texts, err := toJSON(len(lines), "store the state", fixture, func(i int) any { return stateOf(&r.Due[i]) })
	if err != nil {
		return nil, err
	}
	t := &table{rows: len(lines)}
	t.text("fixture", fixture)
	t.whole("lamp_life", archive.Int64, func(i int) int64 { return int64(lines[i].LampLife) })
	t.text("lamp_type", func(i int) string { return lines[i].LampType })
	t.text("cohort", func(i int) string { return lines[i].Cohort })
	t.whole("as_of", archive.Date, func(i int) int64 { return int64(lines[i].AsOf) })
	t.number("threshold", func(i int) float64 { return lines[i].Threshold })
	t.number("run_hours", func(i int) float64 { return lines[i].RunHours })
	t.text("state", func(i int) string { return texts[i] })
	t.text("fit", func(int) string { return r.Fit.Key })
	if _, err := d.Write(TableDue, "", key, t.cols); err != nil {
		return nil, err
	}
	return d.Commit()
}

func stateOf(d *Due) state {
	if d.Posterior == nil {
		return state{Status: d.Answer.Status, Why: d.Bare, Extra: d.Extra}
	}
	return state{Burn: d.Posterior.Burn, Dark: d.Posterior.Dark, Extra: d.Extra}
}

// Stored answers from what the last nightly left, where nothing has changed
// since and the question is about its day and interval. ok is false where the
// lamps must be asked anew.
func Stored(a *archive.Archive, s Site, q Question) (lines []Line, ok bool, err error) {
	last, any := LastDay(a, s)
	if !any || (q.AsOf != 0 && q.AsOf != last) || (q.Interval != 0 && q.Interval != s.Config.Interval) {
		return nil, false, nil
	}
	key := stateKey(a, s, last)
	if key == "" {
		return nil, false, nil
	}
	if p := partWith(a, TableDue, key); p != nil {
		lines, err = readDue(a, *p, s, q)
		return lines, err == nil, err
	}
	return nil, false, nil
}

func readDue(a *archive.Archive, p archive.Part, s Site, q Question) ([]Line, error) {
	cols, err := a.ReadTable(p)
	if err != nil {
		return nil, fmt.Errorf("read stored answers: %w", err)
	}
	c := map[string]*archive.Column{}
	for i := range cols {
		c[cols[i].Name] = &cols[i]
	}
	var fit *Fitted
	if keys := c["fit"].Text; len(keys) > 0 {
		if fit, err = readFitted(a, keys[0], q.Fixture); err != nil {
			return nil, err
		}
	}
	if fit == nil { // no lamp has one
		fit = &Fitted{}
	}
	posterior := map[lampLife]*forecast.Posterior{}
	for i := range fit.Posteriors {
		p := &fit.Posteriors[i]
		posterior[lampLife{p.Fixture, p.Life}] = p
	}
	ask := forecast.Asking{Interval: s.Config.Interval, Widen: fit.Calibration.Widen, Notes: said(fit.Calibration)}
	var out []Line
	for i := range c["fixture"].Text {
		line := Line{
			Fixture: c["fixture"].Text[i], LampType: c["lamp_type"].Text[i], Cohort: c["cohort"].Text[i], LampLife: int(c["lamp_life"].Int[i]),
			AsOf: int32(c["as_of"].Int[i]), Threshold: c["threshold"].Float[i], RunHours: c["run_hours"].Float[i], Interval: s.Config.Interval,
		}
		if q.Fixture != "" && line.Fixture != q.Fixture {
			continue
		}
		if q.Threshold > 0 {
			line.Threshold = q.Threshold
		}
		var st state
		if err := json.Unmarshal([]byte(c["state"].Text[i]), &st); err != nil {
			return nil, fmt.Errorf("read the state of %s: %w", line.Fixture, err)
		}
		if p := posterior[lampLife{line.Fixture, line.LampLife}]; p != nil {
			p.Stand(int(line.AsOf), line.RunHours, c["threshold"].Float[i], st.Burn, st.Dark)
			ask.Threshold = line.Threshold
			line.Answer = p.Answer(s.Config.Forecast, ask)
		} else {
			line.Answer = bare(math.MaxInt32, st.Status, st.Why)
		}
		line.Answer.Reason = joinReasons(line.Answer.Reason, st.Extra)
		out = append(out, line)
	}
	return out, nil
}

// lampLife names a lamp life.
type lampLife struct {
	fixture string
	n       int
}
