package group

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"sort"
	"strconv"
	"strings"

	"wane/cmd/wane/internal/derive"
	"wane/ingest/archive"
	"wane/transform/calendar"
	"wane/transform/due"
	"wane/transform/forecast"
	"wane/transform/plan"
	"wane/transform/plan/spares"
)

// Line is a row of the group's due table.
type Line struct {
	Site string
	due.Line
}

// answered is what the group's fit says, and what the sites have.
type answered struct {
	pool   *forecast.Pool
	lines  []Line
	sites  []Standing
	spares []Pool
}

// fit makes the group's tables and pages from the sites that can be fitted.
func (out *Outcome) fit(ctx context.Context, lock *archive.Lock, o Options) error {
	var in []*Site
	for _, s := range out.Sites {
		if s.In {
			in = append(in, s)
		}
	}
	if len(in) == 0 {
		return nil
	}
	var err error
	if out.Tables, err = keptTables(lock, keyOf(in, o)); err != nil {
		return err
	}
	if out.Kept = out.Tables != nil; !out.Kept {
		if err := out.make(ctx, lock, in, o); err != nil || out.Tables == nil {
			return err
		}
	}
	return out.writePages(o)
}

// keptTables gives the tables that the night before left, where they are of the same;
// else nil.
func keptTables(lock *archive.Lock, key string) (*archive.Archive, error) {
	d, err := archive.Derive(lock, tables...)
	if err != nil {
		return nil, err
	}
	for _, t := range tables {
		if !d.Keep(t, "", key) {
			return nil, nil
		}
	}
	return d.Commit()
}

// make fits the sites and writes the tables. A site that cannot be fitted is left out,
// and the others begin again.
func (out *Outcome) make(ctx context.Context, lock *archive.Lock, in []*Site, o Options) error {
	x := o.Fitted.answers(keyOf(in, o))
	if out.Elsewhere = x != nil; !out.Elsewhere {
		o.Progress("fitting all sites together")
	}
	for x == nil {
		if len(in) == 0 {
			return nil
		}
		made, err := fitAll(ctx, in, o)
		var bad *forecast.SiteError
		switch {
		case err == nil:
			x = made
		case ctx.Err() == nil && errors.As(err, &bad):
			s := in[bad.Site]
			s.In, s.Trouble = false, "left out of the fit: "+bad.Err.Error()
			in = slices.Delete(slices.Clone(in), bad.Site, bad.Site+1)
		default:
			return fmt.Errorf("fit all sites together: %w", err)
		}
	}
	d, err := archive.Derive(lock, tables...)
	if err != nil {
		return err
	}
	key := keyOf(in, o)
	for _, t := range x.columns() {
		if _, err := d.Write(t.name, "", key, t.cols); err != nil {
			return err
		}
	}
	out.Tables, err = d.Commit()
	return err
}

// keyOf is of all that the tables are made from: what each site's night left, and
// group.yaml.
func keyOf(in []*Site, o Options) string {
	more := []string{derive.Version, version, strconv.FormatBool(o.Config.OwnLots),
		fmt.Sprintf("%+v", sorted(o.Config.Forecast.LampTypes))}
	for _, m := range o.Config.Sites {
		more = append(more, m.Name)
	}
	var parts []archive.Part
	for _, s := range in {
		more = append(more, s.Name, s.tab.Parts(derive.TableLives)[0].Key)
		parts = append(parts, s.tab.Parts(derive.TableDue)...)
	}
	for _, s := range o.Config.Sites {
		more = append(more, s.Folder)
	}
	return archive.Key(parts, more...)
}

func sorted(of map[string]forecast.ClassDefaults) (out []any) {
	names := make([]string, 0, len(of))
	for n := range of {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, n := range names {
		out = append(out, n, of[n])
	}
	return out
}

// fitAll fits all sites, and answers each by the group.
func fitAll(ctx context.Context, in []*Site, o Options) (_ *answered, err error) {
	var now *Part // the site that is open
	forget := func() error {
		was := now
		now = nil
		return was.Close()
	}
	defer func() { err = errors.Join(err, forget()) }()
	var of []Answer
	pool, err := forecast.RunPool(forecast.Sites{N: len(in), Defaults: assumed(o.Config),
		Open: func(i int) (*forecast.Input, error) {
			if err := errors.Join(forget(), ctx.Err()); err != nil {
				return nil, err
			}
			var err error
			if now, err = in[i].part(ctx, o.Config.OwnLots); err != nil {
				return nil, err
			}
			return now.Input(), nil
		},
	}, func(i int, fit *forecast.Fit) error {
		o.Progress("answering " + in[i].Name)
		a, err := now.Answer(ctx, fit)
		of = append(of, a)
		return err
	})
	if err != nil {
		return nil, err
	}
	return joinedAnswers(pool, of), nil
}

// joinedAnswers puts the sites' answers together, in their order.
func joinedAnswers(pool *forecast.Pool, of []Answer) *answered {
	x, laws := &answered{pool: pool}, map[string]*Pool{}
	for _, a := range of {
		for _, l := range a.Lines {
			x.lines = append(x.lines, Line{a.Site.Site, l})
		}
		x.sites = append(x.sites, a.Site)
		for name, law := range a.Failures {
			if laws[name] == nil {
				laws[name] = &Pool{LampType: name, law: spares.Forecast{PMF: []float64{1}}}
			}
			laws[name].add(a.Spares, law)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(laws)) {
		x.spares = append(x.spares, laws[name].pooled())
	}
	return x
}

// words say what a lamp leans on at other sites, and what its own site says alone.
func words(b forecast.Borrowed, l, alone due.Line) string {
	var of []string
	for _, x := range []struct {
		n    int
		what string
	}{{b.Lot, "lot"}, {b.Make, "make"}, {b.Type, "type"}} {
		if x.n > 0 {
			of = append(of, fmt.Sprintf("%s of its %s", plural(x.n, "lamp", "lamps"), x.what))
		}
	}
	if len(of) == 0 {
		return ""
	}
	out := "from the group: leans on " + strings.Join(of, ", ") + " at other sites"
	switch {
	case alone.Fixture == "" || alone.DueHours == l.DueHours:
	case alone.DueHours == alone.DueHours && alone.DueHoursHi == alone.DueHoursHi:
		out += fmt.Sprintf("; its site alone says %.0f h (%.0f to %.0f)", alone.DueHours, alone.DueHoursLo, alone.DueHoursHi)
	case alone.Status != l.Status:
		out += "; its site alone says " + string(alone.Status)
	}
	return out
}

func joined(a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + "; " + b
}

// Standing is a site by what is due and what it costs.
type Standing struct {
	Site, Name  string
	AsOf        int32
	Lamps       int
	Under, Dark int
	Soon, Year  int // fall under their threshold within 90 days, within a year; those that are under or dark too
	Unsure      int // inseparable, too early, without data
	Cost        float64
	Currency    string
	Work        int // pieces of work planned within the year
}

// The spans that are looked at, days.
const soon, year = 90, 365

func (s *Standing) count(l due.Line) {
	s.Lamps++
	switch l.Status {
	case forecast.StatusUnder:
		s.Under++
	case forecast.StatusDark:
		s.Dark++
	case forecast.StatusForecast, forecast.StatusBeyond:
	default:
		s.Unsure++
	}
	gone := l.Status == forecast.StatusUnder || l.Status == forecast.StatusDark
	within := func(days float64) bool {
		return gone || l.Status == forecast.StatusForecast && l.DueDate <= float64(l.AsOf)+days
	}
	if within(soon) {
		s.Soon++
	}
	if within(year) {
		s.Year++
	}
}

// cost takes the planned work of the year to come.
func (s *Standing) cost(p plan.Result) {
	end := calendar.Date(s.AsOf + 1 + year)
	for _, v := range p.Visits {
		if v.Date.Before(end) {
			s.Cost += v.Cost
			s.Work += len(v.Work)
		}
	}
}

// Pool is the spares of one lamp type, kept together by the sites instead of by each.
type Pool struct {
	LampType         string
	Sites, Lamps     int
	OnHand           int
	Alone            int // what the sites' stores must hold each for itself, added up
	Together         int // what one store for all must hold
	Failures, Lo, Hi float64
	Level, Achieved  float64 // service level asked, the highest of the sites', and reached

	law spares.Forecast
}

func (p *Pool) add(lines []plan.SparesLine, law spares.Forecast) {
	for _, l := range lines {
		if l.LampType == p.LampType {
			p.Sites++
			p.Lamps += l.Lamps
			p.OnHand += l.OnHand
			p.Alone += l.Stock
			p.Level = max(p.Level, l.ServiceLevel)
		}
	}
	p.law = p.law.Plus(law)
}

func (p *Pool) pooled() Pool {
	e := p.law.Estimate(.8, p.Lamps)
	p.Failures, p.Lo, p.Hi = e.Centre, e.Lo, e.Hi
	p.Together, p.Achieved = p.law.Spares(p.Level)
	return *p
}
