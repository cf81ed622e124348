package yearly

import (
	"fmt"
	"strconv"
	"strings"

	"wane/cmd/wane/internal/pages/chart"
	"wane/transform/estimate"
	"wane/transform/yearly"
)

func typesOf(s *yearly.Summary) []*yearly.Group {
	var out []*yearly.Group
	for i := range s.Groups {
		if s.Groups[i].By == "lamp type" {
			out = append(out, &s.Groups[i])
		}
	}
	return out
}

func survivalSection(s *yearly.Summary) *section {
	x := &section{ID: "survival", Heading: "How long lamps lasted", Intro: []string{
		"A lamp has failed where the logbook says so. Lamps that burned already when the record began enter at their age; " +
			"lamps that still work, or were taken out working, are censored. All of the record counts, not this year alone.",
		"A lamp found dark more than 1 % of its run-hours after its light was last read failed somewhere between: the " +
			"curve and its B10 and B50 are then Turnbull's. One whose light was never read failed on the logbook's day. A " +
			"curve begins, and is drawn, where at least " + strconv.Itoa(yearly.LeastAtRisk) + " lamps are under watch.",
		"The make is the fixture's model; a lamp put in later may be of another maker, so cohorts are listed too.",
	}}
	for _, by := range []struct{ by, caption string }{{"lamp type", "By lamp type"}, {"make", "By make"},
		{"cohort", "By cohort"}} {
		x.table(lastedTable(s, by.by, by.caption))
		if by.by == "lamp type" {
			var none, few []string
			for _, g := range typesOf(s) {
				if g.Failures == 0 {
					none = append(none, fmt.Sprintf("%s (%d)", lampType(g.LampType), g.Units))
					continue
				}
				f := survivalFigure(s, g.LampType)
				x.figure(f)
				if f == nil {
					few = append(few, fmt.Sprintf("%s (%d)", lampType(g.LampType), g.Units))
				}
				x.figure(weibullFigure(s, g))
			}
			if len(few) > 0 {
				x.say(fmt.Sprintf("At no age are %d lamps of these types under watch, so no curve is drawn: %s.",
					yearly.LeastAtRisk, strings.Join(few, ", ")))
			}
			if len(none) > 0 {
				x.say("No lamp of these types has failed, so there is no curve to draw: " + strings.Join(none, ", ") + ".")
			}
		}
	}
	x.table(weibullTable(s))
	t := newTable("makes_compared", "Do the makes of one lamp type fail alike? (log-rank test)",
		"No lamp type has several makes.", "Lamp type and make", "#Lamps", "#Failed", "#Would have failed, were all alike",
		"#p")
	for _, c := range s.Comparisons {
		t.heading(lampType(c.LampType) + ": " + c.Say)
		failed := 0
		for _, g := range c.Groups {
			failed += g.Observed
		}
		for _, g := range c.Groups {
			p := "\u2013"
			if c.DF > 0 && failed > 0 {
				p = chart.Number(float64(c.P), 3)
				if !c.Enough {
					p += " (too few to lean on)"
				}
			}
			t.add(text(g.Name), whole(g.Units), whole(g.Observed), num(g.Expected, 1), text(p))
		}
	}
	x.table(t)
	t = newTable("competing_ends", "What ends a lamp's use first: dark, or faded under its threshold",
		"No lamp has reached 2,000 h.", "Lamp type", "#By run-hours", "#Lamps", "#Dark", "#Faded")
	for _, e := range s.Ends {
		t.add(text(lampType(e.LampType)), text(inHours(e.Hours)), whole(e.Units), t.value(e.Dark, inPercent),
			t.value(e.Faded, inPercent))
	}
	x.table(t)
	return x
}

func groupName(t *table, g *yearly.Group) cell {
	name := text(lampType(g.Name))
	if g.By != "lamp type" {
		name = cell{Text: g.Name, Small: lampType(g.LampType)}
	}
	if g.Say != "" {
		name.Marks = append(name.Marks, t.mark(sentence(g.Say)))
	}
	return name
}

func lastedTable(s *yearly.Summary, by, caption string) *table {
	t := newTable("survival", caption+": how long lamps lasted, run-hours", "No lamp is under watch.",
		"Kind", "#Lamps", "#Failed", "#Lamp-hours", "#A tenth failed by (B10)", "#Half failed by (B50)",
		"#Failures per million h", "#Failed in the first 1,000 h")
	t.ID = "t-survival-" + by[:4]
	for i := range s.Groups {
		g := &s.Groups[i]
		if g.By != by {
			continue
		}
		lamps := whole(g.Units)
		if g.Late > 0 {
			lamps.Small = fmt.Sprintf("%d entered late", g.Late)
		}
		t.add(groupName(t, g), lamps, whole(g.Failures), num(g.UnitHours, 0), t.value(g.B10, inHours),
			t.value(g.Median, inHours),
			t.value(g.Rate, places(1)), t.value(g.Early, inPercent))
	}
	return t
}

// weibullTable holds the groups that a Weibull tells more of than that it
// cannot be fitted: those with failures, and the bounds of the types without.
func weibullTable(s *yearly.Summary) *table {
	t := newTable("survival", "Weibull by maximum likelihood, with censoring and late entry; run-hours",
		"No lamp is under watch.",
		"Kind", "#Failed", "#Shape", "#Scale", "#B10", "#B50", "#Mean")
	t.ID = "t-weibull"
	last := ""
	for i := range s.Groups {
		g := &s.Groups[i]
		if g.Failures == 0 && g.By != "lamp type" {
			continue
		}
		if g.By != last {
			last = g.By
			t.heading("By " + g.By)
		}
		b10 := t.value(g.WeibullB10, inHours)
		if g.NoFit != "" && (g.AssumedB10.Known() || estimate.Finite(g.AssumedB10.Lo)) {
			b10 = t.value(g.AssumedB10, inHours)
		}
		t.add(groupName(t, g), whole(g.Failures), t.value(g.Shape, places(2)), t.value(g.Scale, inHours), b10,
			t.value(g.WeibullB50, inHours), t.value(g.Mean, inHours))
	}
	return t
}

func positionSection(s *yearly.Summary) *section {
	x := &section{ID: "positions", Heading: "Failures per position", Intro: []string{
		"The repairable view: a position goes on when its lamp is replaced. The axis is the burning hours of the position."}}
	t := newTable("failures_per_position", "Mean cumulative failures per position",
		"No position has reached 2,000 h under watch.", "Lamp type", "#Positions", "#Failures", "#By burning hours",
		"#Failures per position")
	for i := range s.Repairs {
		r := &s.Repairs[i]
		for _, a := range r.At {
			t.add(text(lampType(r.LampType)), whole(r.Positions), whole(r.Failures), text(inHours(a.Hours)),
				t.value(a.Mean, places(3)))
		}
		x.figure(repairFigure(s, r))
	}
	x.table(t)
	return x
}

func lightSection(s *yearly.Summary) *section {
	x := &section{ID: "light", Heading: "How light was kept", Intro: []string{
		"Levels are as the sensors saw them, with the sensors' drift, supply and temperature taken out and dirt not. 100 " +
			"% is each lamp's own output after seasoning; lamps first read later than 500 run-hours are left out.",
	}}
	seen := map[string]bool{}
	for i := range s.Maintenance {
		if m := &s.Maintenance[i]; !seen[m.LampType] {
			seen[m.LampType] = true
			x.figure(declineFigure(s, m.LampType))
		}
	}
	t := newTable("maintenance_levels", "Level at run-hours: a tenth of the lamps lie under P10, half under P50, nine "+
		"tenths under P90", "No lamp was read from new to 2,000 h.",
		"Lamp type and make", "#Run-hours", "#Lamps", "#P10", "#P50", "#P90")
	for _, m := range s.Maintenance {
		for _, l := range m.Levels {
			t.add(kind(m.LampType, m.Make), text(inHours(l.Hours)), whole(l.Lamps), t.value(l.P10, places(3)),
				t.value(l.P50, places(3)), t.value(l.P90, places(3)))
		}
	}
	x.table(t)
	t = newTable("hours_to_level", "Run-hours to Q90, Q80 and Q70: by when a tenth, half and nine tenths of the lamps "+
		"had come down to the level", "No lamp was read from new.",
		"Lamp type and make", "#Level", "#Lamps", "#Reached it", "#A tenth by, h", "#Half by, h", "#Nine tenths by, h")
	for _, m := range s.Maintenance {
		for _, h := range m.Hours {
			t.add(kind(m.LampType, m.Make), text(fmt.Sprintf("Q%.0f", 100*h.Level)), whole(h.Lamps), whole(h.Reached),
				t.value(h.P10, inHours), t.value(h.P50, inHours), t.value(h.P90, inHours))
		}
	}
	x.table(t)
	t = newTable("shares_of_loss", "What the readings of the lamps now in service have lost, and to what",
		"No lamp has a forecast.", "Lamp type", "#Lamps", "#Lamp", "#Dirt", "#Sensor")
	for _, h := range s.Shares {
		t.add(text(lampType(h.LampType)), whole(h.Lamps), t.value(h.Lamp, inPercent), t.value(h.Dirt, inPercent),
			t.value(h.Sensor, inPercent))
	}
	x.table(t)
	t = newTable("light_per_power", "Light at the sensors per watt in the year's first and last 28 days, where "+
		"power is read", "No fixture's power was read at both ends of the year.", "Lamp type", "#Fixtures", "#Start", "#End", "#Change")
	for _, e := range s.Efficacy {
		t.add(text(lampType(e.LampType)), whole(e.Fixtures), t.value(e.Start, places(3)), t.value(e.End, places(3)),
			t.value(e.Change, inPercent))
	}
	x.table(t)
	return x
}

func kind(t, m string) cell {
	if m == "" {
		return cell{Text: lampType(t), Small: "all makes"}
	}
	return cell{Text: m, Small: lampType(t)}
}

func warrantySection(s *yearly.Summary) *section {
	x := &section{ID: "warranty", Heading: "Warranty evidence", Intro: []string{
		"Lamps under a promised level inside the promised hours. A claim stands where the whole 95 % interval of the " +
			"lamp's own level, with dirt and the sensor's drift taken out, lies under the promise. Each has a folder with " +
			"the rows and files it rests on, and their SHA-256.",
	}}
	if s.Promised == 0 {
		x.say("site.yaml states no warranty terms for any lamp that was in service in the year: nothing is judged. The " +
			"key is `warranty`.")
		return x
	}
	t := newTable("warranty_claims", fmt.Sprintf("Claims among %d lamps under terms", s.Promised),
		"No lamp is under its promised level inside its promised hours.",
		"Fixture", "Make", "#Promised", "#At run-hours", "#Level", "#Lost", "Claim")
	t.Open = true
	taken := map[string]bool{}
	for _, c := range s.Claims {
		folder := "warranty/" + folderName(c.Fixture, c.LampLife, taken)
		hours := cell{Text: inHours(c.AtHours)}
		if c.Unsure >= 1 {
			hours.Small = "± " + inHours(c.Unsure)
		}
		level, lost := t.value(c.Level, places(3)), t.value(c.Loss, inPercent)
		if c.Dark {
			level, lost = text("dark"), text("all")
		}
		t.add(cell{Text: fmt.Sprintf("%s, lamp %d", c.Fixture, c.LampLife), Link: folder + "/claim.json"},
			cell{Text: c.Make, Small: lampType(c.LampType)},
			cell{Text: chart.Number(c.Warranted, 2), Small: "until " + inHours(c.Hours) + " h"}, hours, level, lost,
			cell{Text: string(c.Verdict), Small: c.Say})
	}
	x.table(t)
	files := newTable("", "The evidence to hand over, one file a make", "", "Make", "#Claims", "File")
	files.ID = "t-evidence"
	for _, m := range makesOf(s.Claims) {
		files.add(text(m.name), whole(len(m.claims)), cell{Text: m.file, Link: m.file})
	}
	if len(files.Rows) > 0 {
		x.table(files)
	}
	return x
}

func scoreSection(s *yearly.Summary) *section {
	c := &s.Score
	x := &section{ID: "scorecard", Heading: "What last year's due dates were worth", Intro: []string{
		fmt.Sprintf("The due dates as they stood on %s, from nothing dated later, against what came. Whether a lamp "+
			"crossed is judged by the same model with the year's readings, since both speak of the lamp's own level: the two "+
			"are not wholly independent. The chance is that of crossing within the year, or until the lamp "+
			"was taken out.", day(c.AsOf)),
	}}
	x.say(c.Say)
	t := newTable("", "The year's forecasts in numbers", "", "What", "#Value")
	t.ID = "t-score"
	t.add(text("forecasts at the year's start"), whole(c.Said))
	t.add(text("crossings that they expected in the year"), t.value(c.Expected, places(1)))
	t.add(text("lamps that crossed"), whole(c.Crossed))
	t.add(text(fmt.Sprintf("intervals that held, of those that can be judged (%.0f %% were to)", 100*c.Nominal)),
		t.value(c.Coverage, inPercent))
	t.add(text("median of due date less crossing, days (negative: said too early)"), t.value(c.MedianErr, places(0)))
	if c.Said > 0 {
		x.table(t)
	}
	t = newTable("scorecard", "Each lamp that had a due date at the year's start", "No lamp had a due date.", "Fixture",
		"Said then", "Due", "#Chance in the year", "Crossed", "What came", "#Days off")
	for _, r := range c.List {
		due := t.date(r.Due)
		crossed := cell{Text: "\u2013"}
		if r.Crossed.Known() {
			crossed = cell{Text: asDay(r.Crossed.Centre), Small: r.By}
		}
		chance, off := cell{Text: "\u2013"}, cell{Text: "\u2013"}
		if estimate.Finite(float64(r.Chance)) {
			chance = text(inPercent(float64(r.Chance)))
		}
		if estimate.Finite(float64(r.ErrDays)) {
			off = num(float64(r.ErrDays), 0)
			off.Small = "outside the interval"
			if r.InBand {
				off.Small = "inside the interval"
			}
		}
		t.add(text(fmt.Sprintf("%s, lamp %d", r.Fixture, r.LampLife)), text(r.Status),
			due, chance, crossed, text(r.Outcome), off)
	}
	x.table(t)
	return x
}

// date writes a due day; where none is given, its bound.
func (t *table) date(v yearly.Value) cell {
	c := written(v.Estimate, asDay)
	c.Marks = nil
	return c
}

func nextSection(s *yearly.Summary) *section {
	x := &section{ID: "next", Heading: "The coming year", Intro: []string{
		fmt.Sprintf("The 365 days from the report's date. Counts have %.0f %% prediction intervals: they hold the scatter "+
			"of the count and what the data leave open.", 100*s.Interval),
	}}
	t := newTable("next_year", "What the coming year asks, by lamp type", "No lamp is in service.",
		"Lamp type", "#In service", "#Under or dark now", "#Will cross", "#Will fail", "#Spares for failures",
		"#To replace in all", "#Labour, h", "#Cost")
	mercury := 0.0
	for _, o := range s.Outlook {
		spares := whole(o.Spares)
		if estimate.Finite(float64(o.Achieved)) {
			spares.Small = "suffice with " + inPercent(float64(o.Achieved))
		} else {
			spares = text("not known")
		}
		cost := t.value(o.Cost, places(0))
		if o.Cost.Known() && o.Currency != "" {
			cost.Text += " " + o.Currency
		}
		t.add(text(lampType(o.LampType)), whole(o.InService),
			cell{Text: chart.Number(float64(o.Under+o.Dark), 0), Small: fmt.Sprintf("%d under, %d dark", o.Under, o.Dark)},
			t.value(o.Crossings, places(1)), t.value(o.Failures, places(1)), spares, t.value(o.Lamps, places(1)),
			t.value(o.Labour, places(1)), cost)
		if o.Mercury {
			mercury += o.Lamps.Centre
		}
	}
	x.table(t)
	if mercury > 0 {
		x.say(fmt.Sprintf("About %s of the lamps to be replaced hold mercury: keep them whole and boxed for a licensed "+
			"collector. Isolate and lock out, and let lamps cool, before anyone goes up.", chart.Number(mercury, 0)))
	}
	t = newTable("trend", "Against earlier years of the record", "There is no record.", "Year", "#Days of record",
		"#Lamp-hours", "#Failed", "#Failures per million h", "#Faded under threshold", "#Lamps put in")
	for _, y := range s.Trend {
		t.add(text(fmt.Sprint(y.Year)), whole(y.Days), num(float64(y.Hours), 0), whole(y.Failures),
			t.value(y.Rate, places(1)), whole(y.Faded), whole(y.Relamped))
	}
	x.table(t)
	return x
}

func failureSection(s *yearly.Summary) *section {
	x := &section{ID: "failures", Heading: "Failures by kind", Intro: []string{
		"Lost light is that of the days a failed lamp hung dark, at the fixture's usual hours and output under the sensor."}}
	x.figure(paretoFigure(s))
	t := newTable("failures_by_mode", "Failures by kind", "No failure is in the logbook.", "Kind", "#This year",
		"#In the record", "#Expected a year", "#Dark days this year", "#Light lost, mol/m²", "#Cost of lamps")
	for _, m := range s.Modes {
		cost := "not stated"
		if estimate.Finite(float64(m.Cost)) && m.Cost > 0 {
			cost = chart.Number(float64(m.Cost), 0)
		} else if estimate.Finite(float64(m.Cost)) {
			cost = "\u2013"
		}
		t.add(text(m.Name), whole(m.InYear), whole(m.InRecord), t.value(m.Count, places(1)), whole(m.DarkDays),
			num(float64(m.LostMol), 0), text(cost))
	}
	x.table(t)
	return x
}

func measureSection(s *yearly.Summary, m *Measured) *section {
	x := &section{ID: "measurement", Heading: "How it was measured"}
	t := newTable("sensors", "Sensors: what was found in the year, and what falls due for recalibration",
		"No sensor reads light.", "Sensor", "#Fixtures", "Last recalibrated", "#As found", "#Drift a year", "#References",
		"Falls due")
	for _, c := range s.Sensors {
		last, found, drift := text("never in the record"), text("\u2013"), text("\u2013")
		if c.LastRecal != 0 {
			last = text(day(c.LastRecal))
		}
		if n := len(c.Found); n > 0 {
			found = num(c.Found[n-1].AsFound, 3)
			if estimate.Finite(float64(c.Found[n-1].PerYear)) {
				drift = text(inPercent(float64(c.Found[n-1].PerYear)))
			}
		}
		due := cell{Text: day(c.DueDay), Small: c.Say}
		t.add(text(c.ID), whole(c.Watches), last, found, drift, whole(c.References), due)
	}
	x.table(t)
	t = newTable("files", "Files that hold readings of the year, by source", "No file holds a reading of the year.",
		"Source", "#Files", "#Rows", "#Stored", "#Duplicate", "#Quarantined")
	for _, f := range m.Sources {
		t.add(text(f.Name), whole(f.Files), whole(int(f.Rows)), whole(int(f.Stored)), whole(int(f.Duplicate)),
			whole(int(f.Quarantined)))
	}
	x.table(t)
	t = newTable("", "Rows of those files that were rejected, by reason", "None was rejected.", "Reason", "#Rows")
	t.ID = "t-rejected"
	for _, r := range m.Rejected {
		t.add(text(r.Code), whole(int(r.Rows)))
	}
	x.table(t)
	changes := 0
	for _, c := range s.Sensors {
		changes += c.Factors
	}
	x.say(fmt.Sprintf("Changes of method in the year: %d changes of a sensor's factor or channel. Corrections: %s.",
		changes, m.Corrections))
	t = newTable("", "What the numbers were made with", "", "What", "Version or SHA-256")
	t.ID = "t-made-with"
	t.add(text("program"), text(m.Program))
	t.add(text("derived tables"), text("version "+m.Tables))
	t.add(text("configuration as a whole"), text(m.ConfigHash))
	for _, h := range m.Config {
		t.add(text(h.Path), text(h.SHA256))
	}
	x.table(t)
	return x
}
