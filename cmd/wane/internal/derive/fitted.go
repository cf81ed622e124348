package derive

import (
	"encoding/json"
	"fmt"
	"sort"

	"wane/ingest/archive"
	"wane/transform/forecast"
)

// Table posteriors holds the last fit, a row a lamp life in service, and
// posterior_past their output at run-hours already burned. Their key is what
// the fit could see: it holds until a week ends or something is logged.
const (
	TablePosteriors = "posteriors"
	TablePast       = "posterior_past"
)

// Fitted is a fit of the fleet, and what the site's own record says of such.
type Fitted struct {
	Key         string // "": not stored yet
	Posteriors  []forecast.Posterior
	Calibration forecast.Calibration
	Record      *Backtested // nil where it was not weighed, or is stored
}

// fitKey is of all that Fitted depends on.
func fitKey(f *Fleet, q Question) string {
	seen := f.Input.Fingerprint()
	more := []string{TablePosteriors, Version, fmt.Sprintf("%x", seen)}
	if len(f.Input.Lamps) <= mostLamps { // its past forecasts are weighed
		thresholds := make([]float64, len(f.Input.Lamps))
		for i := range thresholds {
			thresholds[i] = f.Input.Lamps[i].Threshold
		}
		more = append(more, fmt.Sprint(q.Interval, len(f.Input.Origins(recordEvery)), thresholds))
	}
	return archive.Key(nil, more...)
}

// fitOf fits the fleet.
func fitOf(f *Fleet, q Question) (*Fitted, error) {
	fit, err := forecast.Run(&f.Input, forecast.Options{})
	if err != nil {
		return nil, fmt.Errorf("forecast: %w", err)
	}
	out := &Fitted{Posteriors: fit.Posteriors()}
	out.Record, out.Calibration, err = ownRecord(*f, q)
	return out, err
}

// store writes the fit, or keeps it where it is stored.
func (f *Fitted) store(d *archive.Derivation) error {
	if d.Keep(TablePosteriors, "", f.Key) {
		d.Keep(TablePast, "", f.Key)
		return nil
	}
	if len(f.Posteriors) == 0 {
		return nil
	}
	cal, err := json.Marshal(forecast.Calibration{Widen: f.Calibration.Widen, Note: f.Calibration.Note})
	if err != nil {
		return fmt.Errorf("store what the record says of the forecasts: %w", err)
	}
	var past pastRows
	for i := range f.Posteriors {
		past.add(&f.Posteriors[i])
	}
	fixture := func(i int) string { return f.Posteriors[i].Fixture }
	texts, err := toJSON(len(f.Posteriors), "store the forecast", fixture, func(i int) any {
		p := f.Posteriors[i].Timeless()
		p.Past, p.PastShift = nil, [2][]float64{}
		return p
	})
	if err != nil {
		return err
	}
	t := &table{rows: len(texts)}
	t.text("fixture", fixture)
	t.whole("lamp_life", archive.Int64, func(i int) int64 { return int64(f.Posteriors[i].Life) })
	t.text("posterior", func(i int) string { return texts[i] })
	t.text("calibration", func(int) string { return string(cal) })
	if _, err := d.Write(TablePosteriors, "", f.Key, t.cols); err != nil {
		return err
	}
	_, err = d.Write(TablePast, "", f.Key, past.columns())
	return err
}

// readFitted reads the fit that was stored with a key, of one fixture or of all
// ("").
func readFitted(a *archive.Archive, key, fixture string) (*Fitted, error) {
	part := partWith(a, TablePosteriors, key)
	if part == nil || key == "" {
		return nil, nil
	}
	cols, err := a.ReadTable(*part)
	if err != nil {
		return nil, fmt.Errorf("read the stored fit: %w", err)
	}
	names, texts, cal := cols[0].Text, cols[2].Text, cols[3].Text
	lo, hi := 0, len(names)
	if fixture != "" {
		lo = sort.SearchStrings(names, fixture)
		for hi = lo; hi < len(names) && names[hi] == fixture; {
			hi++
		}
	}
	out := &Fitted{Key: key, Posteriors: make([]forecast.Posterior, hi-lo)}
	if len(cal) > 0 {
		if err := json.Unmarshal([]byte(cal[0]), &out.Calibration); err != nil {
			return nil, fmt.Errorf("read what the record says of the forecasts: %w", err)
		}
	}
	err = fromJSON(texts[lo:hi], "read the forecast", names[lo:hi], func(i int) any { return &out.Posteriors[i] })
	if err != nil {
		return nil, err
	}
	if hi == lo {
		return out, nil
	}
	return out, addPast(a, key, out.Posteriors)
}

// pastRows is table posterior_past: ln output and its spread at run-hours, and
// how it shifts with the assumed drift of the own sensor and of the site's.
type pastRows struct {
	fixture                      []string
	life                         []int64
	hours, mean, sd, own, theirs []float64
}

func (t *pastRows) add(p *forecast.Posterior) {
	for i, x := range p.Past {
		t.fixture, t.life = append(t.fixture, p.Fixture), append(t.life, int64(p.Life))
		t.hours, t.mean, t.sd = append(t.hours, x.Hours), append(t.mean, x.Mean), append(t.sd, x.SD)
		t.own, t.theirs = append(t.own, p.PastShift[0][i]), append(t.theirs, p.PastShift[1][i])
	}
}

func (t *pastRows) columns() []archive.Column {
	number := func(name string, v []float64) archive.Column {
		return archive.Column{Name: name, Type: archive.Float64, Float: v}
	}
	return []archive.Column{
		{Name: "fixture", Type: archive.String, Text: t.fixture}, {Name: "lamp_life", Type: archive.Int64, Int: t.life},
		number("run_hours", t.hours), number("ln_output", t.mean), number("ln_output_sd", t.sd),
		number("own_shift", t.own), number("site_shift", t.theirs),
	}
}

// addPast reads the rows of posterior_past of some posteriors, which are in its
// order.
func addPast(a *archive.Archive, key string, to []forecast.Posterior) error {
	part := partWith(a, TablePast, key)
	if part == nil {
		return nil
	}
	c, err := a.ReadTable(*part)
	if err != nil {
		return fmt.Errorf("read the stored fit: %w", err)
	}
	fixture, life := c[0].Text, c[1].Int
	i := sort.SearchStrings(fixture, to[0].Fixture)
	for k := range to {
		p := &to[k]
		n := i
		for n < len(fixture) && fixture[n] == p.Fixture && int(life[n]) == p.Life {
			n++
		}
		p.Past = make([]forecast.PastPoint, n-i)
		p.PastShift = [2][]float64{c[5].Float[i:n:n], c[6].Float[i:n:n]}
		for j := range p.Past {
			p.Past[j] = forecast.PastPoint{Hours: c[2].Float[i+j], Mean: c[3].Float[i+j], SD: c[4].Float[i+j]}
		}
		i = n
	}
	return nil
}
