package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/circuits"
	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/show"
	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/ingest/problem"
	"wane/queries"
	"wane/transform/calendar"
	"wane/transform/estimate"
	"wane/transform/supply"
)

func supplyCommand(env) *cobra.Command {
	c := withFormat(&cobra.Command{
		Use:   "supply [CIRCUIT…]",
		Short: "what each circuit's voltage says",
		Long: `supply prints a row a circuit: its voltages, how much of the time they lie
outside the published service range, and what the service most likely is.

  --show hours     by season and hour of day
  --show events    sags, swells and interruptions
  --show fixtures  which fixtures are rated for it, and how much of the change
                   of each lamp's output the supply makes
  --show phases    unbalance of three phases, where site.yaml names them
  --show limits    the published ranges, with their sources

Times are the site's. ` + supply.Cautions,
		Example: `  wane supply
  wane supply C-F2-A --show hours`,
		RunE: func(c *cobra.Command, args []string) error { return runSupply(c, args) },
	})
	c.Flags().String("show", "circuits", "circuits, hours, events, fixtures, phases or limits")
	c.Flags().String("as-of", "", "use nothing dated later than this day (default: the last day with a reading)")
	return c
}

func runSupply(c *cobra.Command, only []string) error {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	what, err := c.Flags().GetString("show")
	if err != nil {
		return err
	}
	tables := map[string]func(*circuits.Site, *time.Location) *show.Table{
		"circuits": circuitTable, "hours": supplyHours, "events": supplyEvents, "fixtures": supplyFixtures,
		"phases": phaseTable, "limits": limitTable,
	}
	table := tables[what]
	if table == nil {
		return usagef("--show %q is not known; use circuits, hours, events, fixtures, phases or limits", what)
	}
	o, err := openSite(c)
	if err != nil {
		return err
	}
	return o.ask(c.Context(), func(a *archive.Archive, db *queries.DB) error {
		last, err := o.lastDay(c, a)
		if err != nil {
			return err
		}
		site, err := o.circuits(c, a, db, last, only)
		if err != nil {
			return err
		}
		w := c.OutOrStdout()
		if format != show.Text {
			return table(site, o.Config.Location).Print(w, format)
		}
		fmt.Fprintln(w, wrap(supply.Cautions, proseWidth))
		fmt.Fprintln(w)
		if err := table(site, o.Config.Location).Print(w, format); err != nil {
			return err
		}
		if what == "circuits" {
			supplyWords(w, site, len(only) > 0)
		}
		if what == "events" {
			for _, k := range site.Circuits {
				if k.Blind != "" {
					fmt.Fprintf(w, "\n%s\n", wrap(k.Blind, proseWidth))
					break
				}
			}
		}
		if site.NoPhases != "" && (what == "circuits" || what == "phases") {
			fmt.Fprintf(w, "\n%s\n", wrap(site.NoPhases, proseWidth))
		}
		return nil
	})
}

// circuits gathers the circuits named, or all.
func (o *opened) circuits(c *cobra.Command, a *archive.Archive, db *queries.DB, last int32,
	only []string) (*circuits.Site, error) {
	known := circuits.Names(o.Register, calendar.Start(last+1, o.Config.Location))
	wanted := map[string]bool{}
	for _, name := range only {
		if !slices.Contains(known, name) {
			if near := problem.Nearest(name, known); near != "" {
				return nil, usagef("no circuit %q is registered; did you mean %q?", name, near)
			}
			return nil, usagef("no circuit %q is registered; known: %s", name, strings.Join(known, ", "))
		}
		wanted[name] = true
	}
	r, err := derive.Know(c.Context(), a, o.Site, last)
	if err != nil {
		return nil, err
	}
	s, err := circuits.Gather(c.Context(), db, circuits.Asking{Site: sitefolder.Site{Config: o.Config,
		Register: r.Register}, Lives: r.Lives, AsOf: last, Only: wanted})
	return s, errors.Join(err, r.Close())
}

func circuitTable(s *circuits.Site, _ *time.Location) *show.Table {
	t := &show.Table{Columns: []show.Column{
		{Name: "circuit"}, {Name: "registered_v", Digits: 0}, {Name: "fixtures"}, {Name: "readings"},
		{Name: "median_v", Digits: 1}, {Name: "median_lo", Digits: 1, Wide: true}, {Name: "median_hi", Digits: 1, Wide: true},
		{Name: "p5_v", Digits: 1}, {Name: "p95_v", Digits: 1},
		{Name: "range_v"}, {Name: "outside", Digits: 4}, {Name: "outside_lo", Digits: 4, Wide: true},
		{Name: "outside_hi", Digits: 4, Wide: true},
		{Name: "service"}, {Name: "weight", Digits: 2}, {Name: "confidence"}, {Name: "as_registered"},
		{Name: "sags"}, {Name: "swells"}, {Name: "interruptions"}, {Name: "not_rated"}, {Name: "words", Wide: true},
	}}
	for _, k := range s.Circuits {
		whole, ok := k.Profile.Whole()
		if !ok || k.Why != "" {
			t.Add(k.Name, zeroNil(k.Registered), len(k.Fixtures), k.Readings, nil, nil, nil, nil, nil, nil, nil, nil, nil, nil,
				nil, nil, nil, nil, nil, nil, nil, k.Why)
			continue
		}
		lo, hi := whole.Below.Lo+whole.Above.Lo, math.Min(1, whole.Below.Hi+whole.Above.Hi)
		f := k.Finding
		t.Add(k.Name, zeroNil(k.Registered), len(k.Fixtures), k.Readings,
			whole.Median.Centre, whole.Median.Lo, whole.Median.Hi, whole.P5.Centre, whole.P95.Centre,
			rangeText(k.Profile.Range), whole.Below.Centre+whole.Above.Centre, lo, hi,
			f.Best.Label(), f.Best.Weight, f.Confidence, f.Agrees,
			k.Count(supply.Sag), k.Count(supply.Swell), k.Count(supply.Interruption), k.Misrated(), f.Words)
	}
	return t
}

// supplyWords says what was found: in full for circuits asked for by name and
// for those that are not what the register says.
func supplyWords(w io.Writer, s *circuits.Site, full bool) {
	plain := 0
	defer func() {
		if plain > 0 {
			fmt.Fprintf(w, "\n%d circuits read as registered; `wane supply CIRCUIT` gives the evidence for each.\n", plain)
		}
	}()
	for _, k := range s.Circuits {
		if k.Why != "" {
			fmt.Fprintf(w, "\n%s: %s\n", k.Name, k.Why)
			continue
		}
		f := k.Finding
		if !full && f.Agrees && f.Confidence != "none" {
			plain++
			continue
		}
		fmt.Fprintf(w, "\n%s\n", wrap(sentence(f.Words), proseWidth))
		say := func(format string, a ...any) { fmt.Fprintln(w, indent(wrap(fmt.Sprintf(format, a...), proseWidth-4))) }
		say("held against %s; confidence %s (weight %.2f)", sourceText(k.Profile.Range), f.Confidence, f.Best.Weight)
		for _, e := range f.Best.Evidence {
			say("- %s", e)
		}
		if k.Seen != nil {
			if c, ok := k.Seen.Whole(); ok {
				say("- outside the range of %s for %s", f.Best.Service, share(addShares(c)))
			}
		}
		for _, x := range f.Alternatives {
			say("or: %s (weight %.2f): %s", x.Label(), x.Weight, strings.Join(x.Evidence, "; "))
		}
		for _, x := range f.Settles {
			say("would settle it: %s", x)
		}
	}
}

func supplyHours(s *circuits.Site, _ *time.Location) *show.Table {
	t := &show.Table{Columns: []show.Column{
		{Name: "circuit"}, {Name: "season"}, {Name: "hour"}, {Name: "readings"}, {Name: "median_v", Digits: 1},
		{Name: "median_lo", Digits: 1}, {Name: "median_hi", Digits: 1},
		{Name: "p5_v", Digits: 1}, {Name: "p95_v", Digits: 1}, {Name: "below", Digits: 4}, {Name: "above", Digits: 4},
		{Name: "range_v"}, {Name: "method", Wide: true},
	}}
	for _, k := range s.Circuits {
		for _, c := range k.Profile.Cells {
			hour := any("all")
			if c.Hour != supply.AllHours {
				hour = fmt.Sprintf("%02d", c.Hour)
			}
			t.Add(k.Name, string(c.Season), hour, c.Readings, c.Median.Centre, c.Median.Lo, c.Median.Hi, c.P5.Centre,
				c.P95.Centre,
				c.Below.Centre, c.Above.Centre, rangeText(k.Profile.Range), c.Median.Method)
		}
	}
	return t
}

func supplyEvents(s *circuits.Site, loc *time.Location) *show.Table {
	t := &show.Table{Columns: []show.Column{
		{Name: "circuit"}, {Name: "kind"}, {Name: "start"}, {Name: "end"}, {Name: "samples"}, {Name: "extreme_v", Digits: 1},
		{Name: "of_nominal", Digits: 3}, {Name: "nominal_v", Digits: 0},
		{Name: "at_least_s", Digits: 0}, {Name: "at_most_s", Digits: 0}, {Name: "class"},
	}}
	for _, k := range s.Circuits {
		for _, e := range k.Events {
			most := any(nil)
			if e.AtMost >= 0 {
				most = e.AtMost.Seconds()
			}
			t.Add(k.Name, string(e.Kind), e.Start.In(loc).Format(time.RFC3339), e.End.In(loc).Format(time.RFC3339), e.Samples,
				e.ExtremeV, e.Extreme, k.Nominal,
				e.AtLeast.Seconds(), most, e.Class)
		}
	}
	return t
}

func supplyFixtures(s *circuits.Site, _ *time.Location) *show.Table {
	t := &show.Table{Columns: []show.Column{
		{Name: "circuit"}, {Name: "fixture"}, {Name: "gear"}, {Name: "rated_v", Digits: 0}, {Name: "rated_for_it"},
		{Name: "first_v", Digits: 1}, {Name: "later_v", Digits: 1}, {Name: "coefficient", Digits: 2},
		{Name: "coefficient_lo", Digits: 2, Wide: true}, {Name: "coefficient_hi", Digits: 2, Wide: true},
		{Name: "change", Digits: 4}, {Name: "change_lo", Digits: 4, Wide: true}, {Name: "change_hi", Digits: 4, Wide: true},
		{Name: "supply", Digits: 4}, {Name: "supply_lo", Digits: 4}, {Name: "supply_hi", Digits: 4},
		{Name: "rest", Digits: 4, Wide: true}, {Name: "rest_lo", Digits: 4, Wide: true},
		{Name: "rest_hi", Digits: 4, Wide: true},
		{Name: "of_rated", Digits: 3}, {Name: "of_rated_lo", Digits: 3}, {Name: "of_rated_hi", Digits: 3},
		{Name: "words", Wide: true},
	}}
	for _, k := range s.Circuits {
		by := map[string]*circuits.Effect{}
		for i := range k.Effects {
			by[k.Effects[i].Fixture] = &k.Effects[i]
		}
		for _, r := range k.Rated {
			ok := any(nil)
			if r.Known {
				ok = r.OK
			}
			e := by[r.Fixture.ID]
			if e == nil {
				t.Add(k.Name, r.Fixture.ID, string(r.Fixture.Gear), zeroNil(r.Fixture.RatedV), ok, nil, nil, nil, nil, nil, nil,
					nil, nil, nil, nil, nil, nil, nil, nil, nil, nil, nil, r.Words)
				continue
			}
			t.Add(k.Name, r.Fixture.ID, string(r.Fixture.Gear), zeroNil(r.Fixture.RatedV), ok, e.FirstV.Centre, e.LaterV.Centre,
				e.Coefficient.Centre, e.Coefficient.Lo, e.Coefficient.Hi, e.Change.Centre, e.Change.Lo, e.Change.Hi,
				e.Supply.Centre, e.Supply.Lo, e.Supply.Hi, e.Rest.Centre, e.Rest.Lo, e.Rest.Hi,
				e.AtRated.Centre, e.AtRated.Lo, e.AtRated.Hi, r.Words+"; "+e.Words+"; coefficient from "+e.Origin)
		}
	}
	return t
}

func phaseTable(s *circuits.Site, _ *time.Location) *show.Table {
	t := &show.Table{Columns: []show.Column{
		{Name: "service"}, {Name: "circuits"}, {Name: "hours"}, {Name: "median_pct", Digits: 2},
		{Name: "median_lo", Digits: 2}, {Name: "median_hi", Digits: 2},
		{Name: "p95_pct", Digits: 2}, {Name: "negative_sequence_pct", Digits: 2}, {Name: "reason"},
	}}
	for _, u := range s.Phases {
		if u.Why != "" {
			t.Add(u.Service, strings.Join(u.Circuits, " "), u.Hours, nil, nil, nil, nil, nil, u.Why)
			continue
		}
		t.Add(u.Service, strings.Join(u.Circuits, " "), u.Hours, u.Median.Centre, u.Median.Lo, u.Median.Hi, u.P95.Centre,
			u.Negative.Centre, "")
	}
	return t
}

func limitTable(*circuits.Site, *time.Location) *show.Table {
	t := &show.Table{Columns: []show.Column{{Name: "nominal"}, {Name: "kind"}, {Name: "min_v", Digits: 1},
		{Name: "max_v", Digits: 1}, {Name: "source"}, {Name: "known"}}}
	for _, l := range supply.Limits() {
		t.Add(l.Nominal, l.Kind, l.Min, l.Max, l.Source, l.Provenance())
	}
	return t
}

func rangeText(l supply.Limit) string {
	if math.IsInf(l.Max, 0) {
		return ""
	}
	return fmt.Sprintf("%.0f-%.0f", l.Min, l.Max)
}

func sourceText(l supply.Limit) string {
	if math.IsInf(l.Max, 0) {
		return "no published range: the register gives no voltage that one is known for"
	}
	how := ""
	if l.Recalled() {
		how = ", recalled, not checked against the text"
	}
	return fmt.Sprintf("%s, %s: %.0f to %.0f V (%s%s)", l.Nominal, l.Kind, l.Min, l.Max, l.Source, how)
}

// addShares is the time outside at either side.
func addShares(c supply.Cell) estimate.Estimate {
	e := c.Below
	e.Centre += c.Above.Centre
	e.Lo += c.Above.Lo
	e.Hi = math.Min(1, e.Hi+c.Above.Hi)
	return e
}

// share prints a share of time in per cent with its interval.
func share(e estimate.Estimate) string {
	return fmt.Sprintf("%.2f %% of the time (%.2f to %.2f)", 100*e.Centre, 100*e.Lo, 100*e.Hi)
}

func zeroNil(v float64) any {
	if v == 0 {
		return nil
	}
	return v
}

// sentence gives words a capital and a full stop.
func sentence(s string) string {
	if s == "" {
		return s
	}
	s = strings.ToUpper(s[:1]) + s[1:]
	if !strings.HasSuffix(s, ".") {
		s += "."
	}
	return s
}

// proseWidth is how wide sentences are set, so that a usual terminal holds them.
const proseWidth = 80

// wrap breaks words into lines.
func wrap(s string, width int) string {
	var lines []string
	line := ""
	for _, w := range strings.Fields(s) {
		if line != "" && len(line)+1+len(w) > width {
			lines = append(lines, line)
			line = ""
		}
		if line != "" {
			line += " "
		}
		line += w
	}
	return strings.Join(append(lines, line), "\n")
}

func indent(s string) string { return "  " + strings.ReplaceAll(s, "\n", "\n    ") }
