package yearly

import (
	"bytes"
	"math"
	"strings"

	"wane/cmd/wane/internal/show"
	"wane/transform/calendar"
	"wane/transform/yearly"
)

// stat gives the columns of one statistic.
func stat(name string, digits int) []show.Column {
	return []show.Column{{Name: name, Digits: digits}, {Name: name + "_lo", Digits: digits},
		{Name: name + "_hi", Digits: digits},
		{Name: name + "_level", Digits: 2}, {Name: name + "_n"}, {Name: name + "_method"}, {Name: name + "_warnings"}}
}

// cells gives its cells; what is not finite is empty.
func cells(v yearly.Value) []any {
	return []any{v.Centre, v.Lo, v.Hi, v.Level, v.N, v.Method, strings.Join(v.Warnings, "; ")}
}

type column struct {
	name   string
	digits int
	stat   bool
}

// sheet is a table under way.
type sheet struct {
	name string
	show.Table
}

func newSheet(name string, cols ...column) *sheet {
	s := &sheet{name: name}
	for _, c := range cols {
		if c.stat {
			s.Columns = append(s.Columns, stat(c.name, c.digits)...)
		} else {
			s.Columns = append(s.Columns, show.Column{Name: c.name, Digits: c.digits})
		}
	}
	return s
}

// row adds a row; a Value fills the columns of its statistic.
func (s *sheet) row(values ...any) {
	var out []any
	for _, v := range values {
		switch v := v.(type) {
		case yearly.Value:
			out = append(out, cells(v)...)
		case yearly.Number:
			out = append(out, float64(v))
		default:
			out = append(out, v)
		}
	}
	s.Add(out...)
}

func plain(names ...string) []column {
	out := make([]column, len(names))
	for i, n := range names {
		out[i] = column{name: n}
	}
	return out
}

func number(name string, digits int) column { return column{name, digits, false} }
func value(name string, digits int) column  { return column{name, digits, true} }

func dayCell(day float64) any {
	if math.IsNaN(day) || math.IsInf(day, 0) || math.Abs(day) > 1e6 {
		return nil
	}
	return show.Date(calendar.Date(int32(math.Round(day))))
}

// tables are the CSV tables of the summary.
func tables(s *yearly.Summary, m *Measured) []*sheet {
	out := []*sheet{scopeTable(s), roomTable(s), exposureTable(s), coverageTable(m), leftTable(m), survivalTable(s),
		curveTable(s), comparisonTable(s),
		endsTable(s), repairTable(s), roomLightTable(s), levelsTable(s), hoursTable(s), declineTable(s), shareTable(s),
		efficacyTable(s), claimTable(s), scoreTable(s),
		outlookTable(s), trendTable(s), modeTable(s), sensorTable(s), fileTable(m)}
	return out
}

func (s *sheet) bytes() ([]byte, error) {
	var b bytes.Buffer
	err := s.Print(&b, show.CSV)
	return b.Bytes(), err
}

func scopeTable(s *yearly.Summary) *sheet {
	t := newSheet("scope", number("what", 0), number("value", 3), number("unit", 0))
	c := s.Scope
	for _, r := range []struct {
		what  string
		value any
		unit  string
	}{
		{"fixtures at the year's start", c.AtStart, ""}, {"fixtures at the year's end", c.AtEnd, ""}, {"added", c.Added, ""},
		{"removed", c.Removed, ""},
		{"fixtures moved", c.Moved, ""}, {"moves", c.Moves, ""}, {"lamps put in", c.Relamped, ""},
		{"lamps failed", c.Failed, ""}, {"gear replaced", c.Regeared, ""},
		{"switching cycles", c.Starts, ""}, {"energy by counters", float64(c.Energy.MeteredKWh), "kWh"},
		{"energy by power and lamp-on time", float64(c.Energy.ByPowerKWh), "kWh"},
		{"energy reckoned from rated watts", float64(c.Energy.RatedKWh), "kWh"},
		{"energy in all", float64(c.Energy.Total), "kWh"},
		{"fixtures whose energy is not known", c.Energy.Unknown, ""},
		{"share of days with seen run-hours", float64(c.SeenShare), ""},
	} {
		t.row(r.what, r.value, r.unit)
	}
	for _, n := range c.NotUsed {
		t.row("lamp lives not used: "+n.Name, n.Count, "")
	}
	return t
}

func roomTable(s *yearly.Summary) *sheet {
	t := newSheet("rooms", plain("room", "fixtures_at_start", "fixtures_at_end")...)
	for _, r := range s.Scope.Rooms {
		t.row(r.Room, r.AtStart, r.AtEnd)
	}
	return t
}

func exposureTable(s *yearly.Summary) *sheet {
	t := newSheet("exposure", number("unit", 0), number("kind", 0), number("units", 0), number("hours", 1),
		number("failures", 0))
	for _, e := range s.Scope.Exposures {
		t.row(e.Unit, e.Kind, e.Units, e.Hours, e.Failures)
	}
	return t
}

func coverageTable(m *Measured) *sheet {
	t := newSheet("coverage_by_month", number("month", 0), number("fixtures", 0), number("fixture_days", 0),
		number("read_days", 0), number("level_days", 0),
		number("readings", 0), number("usable", 0), number("gap_share", 4))
	for _, r := range m.Months {
		t.row(show.Date(r.Month), r.Fixtures, r.FixtureDays, r.ReadDays, r.LevelDays, r.Readings, r.Usable, r.GapShare)
	}
	return t
}

func leftTable(m *Measured) *sheet {
	t := newSheet("left_out", number("reason", 0), number("readings", 0), number("share", 5))
	for _, l := range m.Left {
		t.row(l.Reason, l.Count, l.Share)
	}
	return t
}

func survivalTable(s *yearly.Summary) *sheet {
	t := newSheet("survival", append(plain("by", "name", "lamp_type", "units", "entered_late", "failures"),
		number("unit_hours", 1), number("oldest_hours", 1), value("b10_kaplan_meier_h", 0), value("b50_kaplan_meier_h", 0),
		value("weibull_shape", 3), value("weibull_scale_h", 0), value("b10_weibull_h", 0), value("b50_weibull_h", 0),
		value("mean_weibull_h", 0),
		value("b10_assumed_shape_h", 0), value("failures_per_1e6_h", 3), value("early_failure_share", 4),
		number("say", 0))...)
	for i := range s.Groups {
		g := &s.Groups[i]
		t.row(g.By, g.Name, g.LampType, g.Units, g.Late, g.Failures, g.UnitHours, g.Oldest, g.B10, g.Median, g.Shape, g.Scale,
			g.WeibullB10, g.WeibullB50,
			g.Mean, g.AssumedB10, g.Rate, g.Early, g.Say)
	}
	return t
}

func curveTable(s *yearly.Summary) *sheet {
	t := newSheet("survival_curves", append(plain("by", "name", "lamp_type"), number("hours", 1), number("at_risk", 0),
		number("failed", 2), number("censored", 0), // failed: expected, where ages are known between two looks only
		number("survival", 5), number("se", 5), number("survival_lo", 5), number("survival_hi", 5))...)
	for i := range s.Groups {
		g := &s.Groups[i]
		for _, st := range g.Curve.Steps {
			if st.Expected > 0 {
				t.row(g.By, g.Name, g.LampType, st.Time, st.AtRisk, st.Expected, st.Censored, st.Survival, st.SE, st.Lo, st.Hi)
			}
		}
	}
	return t
}

func comparisonTable(s *yearly.Summary) *sheet {
	t := newSheet("makes_compared", append(plain("lamp_type", "make", "units", "failures"), number("expected_failures", 3),
		number("chi2", 4), number("df", 0), number("p", 5),
		number("detectable_hazard_ratio", 2), number("enough", 0), number("say", 0))...)
	for _, c := range s.Comparisons {
		for _, g := range c.Groups {
			t.row(c.LampType, g.Name, g.Units, g.Observed, g.Expected, c.Chi2, c.DF, c.P, c.Detectable, c.Enough, c.Say)
		}
	}
	return t
}

func endsTable(s *yearly.Summary) *sheet {
	t := newSheet("competing_ends", number("lamp_type", 0), number("hours", 0), number("units", 0), value("dark_share", 4),
		value("faded_share", 4))
	for _, e := range s.Ends {
		t.row(e.LampType, e.Hours, e.Units, e.Dark, e.Faded)
	}
	return t
}

func repairTable(s *yearly.Summary) *sheet {
	t := newSheet("failures_per_position", number("lamp_type", 0), number("positions", 0), number("failures", 0),
		number("position_hours", 0), value("failures_per_position", 4))
	for _, r := range s.Repairs {
		for _, a := range r.At {
			t.row(r.LampType, r.Positions, r.Failures, a.Hours, a.Mean)
		}
	}
	return t
}

func levelsTable(s *yearly.Summary) *sheet {
	t := newSheet("maintenance_levels", number("lamp_type", 0), number("make", 0), number("hours", 0), number("lamps", 0),
		value("p10", 4), value("p50", 4), value("p90", 4))
	for _, m := range s.Maintenance {
		for _, l := range m.Levels {
			t.row(m.LampType, makeName(m.Make), l.Hours, l.Lamps, l.P10, l.P50, l.P90)
		}
	}
	return t
}

func hoursTable(s *yearly.Summary) *sheet {
	t := newSheet("hours_to_level", number("lamp_type", 0), number("make", 0), number("level", 2), number("lamps", 0),
		number("reached", 0),
		value("hours_p10", 0), value("hours_p50", 0), value("hours_p90", 0))
	for _, m := range s.Maintenance {
		for _, h := range m.Hours {
			t.row(m.LampType, makeName(m.Make), h.Level, h.Lamps, h.Reached, h.P10, h.P50, h.P90)
		}
	}
	return t
}

func makeName(m string) string {
	if m == "" {
		return "all"
	}
	return m
}

func declineTable(s *yearly.Summary) *sheet {
	t := newSheet("decline_by_make", number("lamp_type", 0), number("make", 0), number("hours", 0), number("lamps", 0),
		number("median", 4), number("median_lo", 4), number("median_hi", 4))
	for _, m := range s.Maintenance {
		for _, p := range m.Curve {
			t.row(m.LampType, makeName(m.Make), p.Hours, p.Lamps, p.Median, p.Lo, p.Hi)
		}
	}
	return t
}

func roomLightTable(s *yearly.Summary) *sheet {
	t := newSheet("light_by_room", number("room", 0), number("month", 0), number("lamps", 0), number("median", 4),
		number("median_lo", 4), number("median_hi", 4))
	for _, r := range s.RoomLight {
		for _, m := range r.Months {
			t.row(r.Room, dayCell(float64(m.First)), m.Lamps, m.Median, m.Lo, m.Hi)
		}
	}
	return t
}

func shareTable(s *yearly.Summary) *sheet {
	t := newSheet("shares_of_loss", number("lamp_type", 0), number("lamps", 0), value("lamp", 4), value("dirt", 4),
		value("sensor", 4))
	for _, h := range s.Shares {
		t.row(h.LampType, h.Lamps, h.Lamp, h.Dirt, h.Sensor)
	}
	return t
}

func efficacyTable(s *yearly.Summary) *sheet {
	t := newSheet("light_per_power", number("lamp_type", 0), number("fixtures", 0), value("start", 4), value("end", 4),
		value("change", 4))
	for _, e := range s.Efficacy {
		t.row(e.LampType, e.Fixtures, e.Start, e.End, e.Change)
	}
	return t
}

func claimTable(s *yearly.Summary) *sheet {
	t := newSheet("warranty_claims", append(plain("fixture", "lamp_life", "lamp_type", "make", "cohort"),
		number("warranted_level", 3), number("warranted_hours", 0),
		number("at_hours", 0), number("at_hours_plus_minus", 0), value("level", 4), value("loss", 4), number("verdict", 0),
		number("say", 0), number("terms", 0), number("terms_from", 0))...)
	for _, c := range s.Claims {
		t.row(c.Fixture, c.LampLife, c.LampType, c.Make, c.Cohort, c.Warranted, c.Hours, c.AtHours, c.Unsure, c.Level, c.Loss,
			string(c.Verdict), c.Say, c.Description, c.Path)
	}
	return t
}

func scoreTable(s *yearly.Summary) *sheet {
	t := newSheet("scorecard", append(plain("fixture", "lamp_life", "status_then", "due_date", "due_date_lo",
		"due_date_hi"), number("chance", 3),
		number("crossed_date", 0), number("judged_by", 0), number("outcome", 0), number("error_days", 0),
		number("interval_judged", 0), number("inside_interval", 0))...)
	for _, c := range s.Score.List {
		t.row(c.Fixture, c.LampLife, c.Status, dayCell(c.Due.Centre), dayCell(c.Due.Lo), dayCell(c.Due.Hi), c.Chance,
			dayCell(c.Crossed.Centre), c.By, c.Outcome, c.ErrDays, c.Counts, c.InBand)
	}
	return t
}

func outlookTable(s *yearly.Summary) *sheet {
	t := newSheet("next_year", append(plain("lamp_type", "lamps_in_service", "already_under", "dark_now"),
		value("crossings", 2), value("failures", 2),
		number("spares_for_failures", 0), number("chance_that_spares_suffice", 3), value("lamps_to_replace", 2),
		number("holds_mercury", 0),
		value("labour_hours", 1), value("cost", 2), number("currency", 0))...)
	for _, o := range s.Outlook {
		t.row(o.LampType, o.InService, o.Under, o.Dark, o.Crossings, o.Failures, o.Spares, o.Achieved, o.Lamps, o.Mercury,
			o.Labour, o.Cost, o.Currency)
	}
	return t
}

func trendTable(s *yearly.Summary) *sheet {
	t := newSheet("trend", append(plain("year", "days_of_record"), number("lamp_hours", 1), number("failures", 0),
		value("failures_per_1e6_h", 3), number("faded", 0), number("relamped", 0))...)
	for _, y := range s.Trend {
		t.row(y.Year, y.Days, y.Hours, y.Failures, y.Rate, y.Faded, y.Relamped)
	}
	return t
}

func modeTable(s *yearly.Summary) *sheet {
	t := newSheet("failures_by_mode", append(plain("mode", "in_year", "in_record", "dark_days_in_year"),
		number("lost_mol_m2_in_year", 1), number("cost_in_year", 2), value("expected_a_year", 3))...)
	for _, m := range s.Modes {
		t.row(m.Name, m.InYear, m.InRecord, m.DarkDays, m.LostMol, m.Cost, m.Count)
	}
	return t
}

func sensorTable(s *yearly.Summary) *sheet {
	t := newSheet("sensors", append(plain("sensor", "fixtures", "last_recalibration", "recalibrations_in_year"),
		number("as_found", 4), number("drift_ln_per_year", 5),
		number("references_in_year", 0), number("changes_of_factor_in_year", 0), number("due_date", 0), number("due", 0),
		number("say", 0))...)
	for _, x := range s.Sensors {
		var last any
		if x.LastRecal != 0 {
			last = dayCell(float64(x.LastRecal))
		}
		found, drift := math.NaN(), math.NaN()
		if n := len(x.Found); n > 0 {
			found, drift = x.Found[n-1].AsFound, float64(x.Found[n-1].PerYear)
		}
		t.row(x.ID, x.Watches, last, x.Recals, found, drift, x.References,
			x.Factors, dayCell(float64(x.DueDay)), x.Due, x.Say)
	}
	return t
}

func fileTable(m *Measured) *sheet {
	t := newSheet("files", plain("name", "sha256", "source", "rows", "stored", "duplicate", "quarantined")...)
	for _, f := range m.sorted() {
		t.row(f.Name, f.SHA256, f.Source, f.Rows, f.Stored, f.Duplicate, f.Quarantined)
	}
	return t
}
