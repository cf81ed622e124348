package inspect

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
)

// rows writes a header and n lines, each from the moment of a clock in loc.
func rows(header string, loc *time.Location, start time.Time, step time.Duration, n int,
	line func(at time.Time, i int) string) string {
	var b strings.Builder
	b.WriteString(header + "\n")
	for i := range n {
		b.WriteString(line(start.Add(time.Duration(i)*step).In(loc), i) + "\n")
	}
	return b.String()
}

// said is what a file must bring a report to say of a claim: evidence where it is proven, a
// question where it is not, and in any case nothing of the other.
type said struct {
	name, text string
	ans        Answers
	what       string // the finding that carries the evidence
	proven     string // part of its evidence; "" where it must not be proven
	key, asks  string // the question and a part of its text; "" where none may be asked
}

func (c said) hold(t *testing.T) *Report {
	t.Helper()
	rep, err := FileWith("export.csv", strings.NewReader(c.text), c.ans)
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(rep.Findings, func(f Finding) bool {
		return f.What == c.what && f.Value == "" && f.Sure == Certain
	})
	switch {
	case c.proven == "" && i >= 0:
		t.Errorf("%q is taken for proven: %s", c.what, rep.Findings[i].Evidence)
	case c.proven != "" && (i < 0 || !strings.Contains(rep.Findings[i].Evidence, c.proven)):
		t.Errorf("%q is not proven by %q: %+v", c.what, c.proven, rep.Findings)
	}
	if c.key == "" && len(rep.Questions) > 0 {
		t.Errorf("asks %+v", rep.Questions)
	}
	if c.key != "" && !slices.ContainsFunc(rep.Questions, func(q Question) bool {
		return q.Key == c.key && strings.Contains(q.Text, c.asks)
	}) {
		t.Errorf("does not ask %q %q: %+v", c.key, c.asks, rep.Questions)
	}
	return rep
}

var spring = time.Date(2026, 3, 28, 0, 0, 0, 0, time.UTC) // a day before clocks go forward in Europe

// TestClaims: each claim of a table has a file that proves it and files, one step away, that
// do not: those are asked about.
func TestClaims(t *testing.T) {
	const stamp, utc = "2006-01-02 15:04", "2006-01-02T15:04:05Z"
	hourly := func(header string, line func(at time.Time, i int) string) string {
		return rows(header, time.UTC, spring, time.Hour, 60, line)
	}
	plain := func(header string) string {
		return hourly(header, func(at time.Time, i int) string {
			return fmt.Sprintf("%s,%d.5,21.%d", at.Format(utc), 400+i, i%7)
		})
	}
	later := func(after string) string {
		return strings.Replace(rows(after, time.UTC, spring.Add(60*time.Hour), time.Hour, 60,
			func(at time.Time, i int) string { return fmt.Sprintf("%s,%d.5,21.%d", at.Format(utc), 300+i, i%7) }), "|", "\n", 1)
	}
	// two is a stamp, another time beside it, and a value.
	two := func(a, b string, apart func(i int) time.Duration) string {
		return hourly(a+","+b+",ppfd", func(at time.Time, i int) string {
			return at.Format(stamp) + "," + at.Add(apart(i)).Format(stamp) + "," + fmt.Sprintf("%d.5", 400+i)
		})
	}
	always := func(d time.Duration) func(int) time.Duration { return func(int) time.Duration { return d } }
	// beside is a local clock and what the file says of it.
	beside := func(loc string, header string, say func(at time.Time) string) string {
		return rows(header, place(loc), spring, 20*time.Minute, 144, func(at time.Time, i int) string {
			return at.Format(stamp) + "," + say(at) + "," + fmt.Sprintf("%d.5", 400+i)
		})
	}
	inUTC := func(at time.Time) string { return at.UTC().Format(stamp) }
	minutes := func(at time.Time) string { _, s := at.Zone(); return fmt.Sprint(s / 60) }
	amsterdam, plusOne, zulu := Answers{Zone: "Europe/Amsterdam"}, Answers{Zone: "+01:00"}, Answers{Zone: "UTC"}
	byHour := func(first int) string {
		return hourly("date,hour,use", func(at time.Time, i int) string {
			return at.Format("2006-01-02,") + fmt.Sprintf("%d,%d.25", at.Hour()+first, i)
		})
	}
	numbered := func(layout string) string {
		return rows("time,sensor,ppfd", time.UTC, spring, 2*time.Hour, 144, func(at time.Time, i int) string {
			return fmt.Sprintf("%s,%d,%d.5", at.Add(-time.Duration(i%12)*2*time.Hour).Format(layout), 1+i%12, 400+i)
		})
	}
	with := func(a Answers, interval string) Answers { a.Interval = interval; return a }

	for _, c := range []said{
		{"one header", plain("time,ppfd,temp"), Answers{}, "one table", "", "", ""},
		{"the header again", plain("time,ppfd,temp") + later("time,ppfd,temp"), Answers{}, "one table",
			"1 times more, 0 times with", "", ""},
		{"the header again in another order", plain("time,ppfd,temp") + later("time,temp,ppfd"), Answers{}, "one table",
			"1 times more, 1 times with", "", ""},
		{"other columns further down", plain("time,ppfd,temp") + later("time,ppfd,rh"), Answers{}, "one table", "",
			"columns", "line 62 names other columns than line 1"},
		{"the header again under another title", "Bay 1\n" + plain("time,ppfd,temp") + later("Bay 2|time,ppfd,temp"),
			Answers{}, "one table", "", "sensor", "line 64 under the title \"Bay 2\""},
		{"the header again under the same title", "Bay 1\n" + plain("time,ppfd,temp") + later("Bay 1|time,ppfd,temp"),
			Answers{}, "one table", "1 times more", "", ""},

		{"the same moment twice", two("time", "time again", always(0)), zulu, "moment",
			"column 2 is the same moment again", "", ""},
		{"mostly the same moment twice", two("time a", "time b", func(i int) time.Duration {
			return time.Duration(i%4/3*7) * time.Minute
		}), zulu, "moment", "", "times", "columns 1 and 2"},
		{"another clock by its name", two("time local", "time utc", always(-time.Hour)), plusOne, "moment",
			"column 2 is the same moment on another clock, by its name", "", ""},
		{"another clock by its distance", two("time a", "time b", always(-5*time.Hour)), zulu, "moment",
			"column 2 is the same moment on another clock", "", ""},
		{"no zones are so far apart", two("time a", "time b", always(15*time.Hour)), zulu, "moment", "", "times",
			"columns 1 and 2"},
		{"no zones are 20 minutes apart", two("time a", "time b", always(80*time.Minute)), zulu, "moment", "", "times",
			"columns 1 and 2"},
		{"another clock that changes by an hour", two("time a", "time b", func(i int) time.Duration {
			return time.Duration(5+i/30) * time.Hour
		}), zulu, "moment", "column 2 is the same moment on another clock", "", ""},
		{"no clock changes by four hours", two("time a", "time b", func(i int) time.Duration {
			return time.Duration(5+i/30*4) * time.Hour
		}), zulu, "moment", "", "times", "columns 1 and 2"},
		{"no clock has three ways", two("time a", "time b", func(i int) time.Duration {
			return time.Duration(i%3*30+300) * time.Minute
		}), zulu, "moment", "", "times", "columns 1 and 2"},
		{"the end of an interval", two("start", "end", always(time.Hour)), zulu, "moment", "column 2 is the other end", "",
			""},
		{"the end of half an hour", two("start", "end", always(20*time.Minute)), zulu, "moment",
			"column 2 is the other end", "", ""},
		{"an end that comes and goes", two("start", "end", func(i int) time.Duration {
			return time.Duration(20+10*(i%3)) * time.Minute
		}), zulu, "moment", "", "times", "differ now by more and now by less"},
		{"an end that is often an hour further", two("start", "end", func(i int) time.Duration {
			return time.Duration(20+i%3/2*60) * time.Minute
		}), zulu, "moment", "", "times", "columns 1 and 2"},
		{"the time of receipt", two("time", "received_at", func(i int) time.Duration {
			return time.Duration(1+i%9) * time.Minute
		}), zulu, "moment", "column 2 is named for when the line was handed on", "", ""},
		{"two times of receipt", two("received_at", "stored", func(i int) time.Duration {
			return time.Duration(1+i%9) * time.Minute
		}), zulu, "moment", "", "times", "columns 1 and 2"},
		{"each value with a time of its own", hourly("time A,value A,time B,value B", func(at time.Time, i int) string {
			return fmt.Sprintf("%s,%d.5,%s,2%d.1", at.Format(stamp), 400+i, at.Add(7*time.Hour).Format(stamp), i%9)
		}), zulu, "moment", "", "times", "do these belong to it"},

		{"UTC beside the zone's own clock", beside("Europe/Amsterdam", "time local,time utc,ppfd", inUTC), amsterdam, "zone",
			"column 2 says the same of the clock", "", ""},
		{"UTC beside a clock that never changes", beside("Europe/Amsterdam", "time local,time utc,ppfd", inUTC), plusOne,
			"zone", "", "zone", "the clocks of +01:00 are not so"},
		{"UTC beside the clock of another zone", beside("America/New_York", "time local,time utc,ppfd", inUTC), amsterdam,
			"zone", "", "zone", "144 lines say in column 2"},
		{"minutes from UTC, as the zone has them", beside("Europe/Amsterdam", "time,utc offset,ppfd", minutes), amsterdam,
			"zone", "column 2 says the same of the clock", "", ""},
		{"minutes from UTC, as another zone has them", beside("Europe/London", "time,utc offset,ppfd", minutes), amsterdam,
			"zone", "", "zone", "144 lines say in column 2"},
		{"a zone by its name", beside("Europe/Amsterdam", "time,timezone,ppfd", func(time.Time) string {
			return "Europe/Amsterdam"
		}), amsterdam, "zone", "", "", ""},
		{"another zone by its name", beside("Europe/Amsterdam", "time,timezone,ppfd", func(time.Time) string {
			return "Pacific/Auckland"
		}), amsterdam, "zone", "", "zone", "144 lines say in column 2"},

		{"numbers that name the sensor", hourly("time,sensor,ppfd", func(at time.Time, i int) string {
			return fmt.Sprintf("%s,1,%d.5\n%s,2,%d.5", at.Format(utc), 400+i, at.Format(utc), 500+i)
		}), Answers{}, "sensor", "60 rows are of a moment that another row has", "", ""},
		{"numbers that need not name it", hourly("time,sensor,ppfd", func(at time.Time, i int) string {
			return fmt.Sprintf("%s,%d,%d.5", at.Format(utc), 1+i%2, 400+i)
		}), Answers{}, "sensor", "", "sensor", "no two rows share a moment"},

		{"numbers beside a date", numbered("2006-01-02"), zulu, "sensor", "", "time.columns", "counts 12 numbers on each"},
		{"numbers beside a date and a clock", numbered("2006-01-02 15:04"), zulu, "sensor", "rows are of a moment", "", ""},

		{"hours from 0 to 23", byHour(0), zulu, "hours", "", "", ""},
		{"hours from 1 to 23", strings.ReplaceAll(byHour(0), ",0,", ",,"), zulu, "hours", "", "", ""},
		{"hours from 1 to 24", byHour(1), zulu, "hours", "", "interval", "run from 1 to 24"},
		{"hours from 1 to 24, answered", byHour(1), with(zulu, "begin"), "hours", "", "", ""},

		{"columns named for minutes", hourly("time,e00,e15,e30,e45", func(at time.Time, i int) string {
			return fmt.Sprintf("%s,%d.1,%d.2,%d.3,%d.4", at.Format(utc), i, i, i, i)
		}), Answers{}, "columns", "", "columns", "4 columns from \"e00\" on"},
		{"columns named for half an hour", hourly("time,e00,e15", func(at time.Time, i int) string {
			return fmt.Sprintf("%s,%d.1,%d.2", at.Format(utc), i, i)
		}), Answers{}, "columns", "", "", ""},
		{"columns that are numbered", hourly("time,e1,e2,e3,e4", func(at time.Time, i int) string {
			return fmt.Sprintf("%s,%d.1,%d.2,%d.3,%d.4", at.Format(utc), i, i, i, i)
		}), Answers{}, "columns", "", "", ""},

		{"units that change within a series", hourly("time,unit,value", func(at time.Time, i int) string {
			return fmt.Sprintf("%s,%s,%d.5", at.Format(utc), []string{"W", "kW"}[i%2], 400+i)
		}), Answers{}, "units", "", "unit", "change within a series (W, kW)"},
		{"one unit a series", hourly("time,channel,unit,value", func(at time.Time, i int) string {
			return fmt.Sprintf("%s,power,W,2%d.1\n%s,temp,degC,2%d.5", at.Format(utc), i%8, at.Format(utc), i%7)
		}), Answers{}, "units", "", "", ""},
	} {
		t.Run(c.name, func(t *testing.T) { c.hold(t) })
	}
}

// TestHourOneIsShiftedAsAnswered: the answer decides where the value of hour 1 is stored.
func TestHourOneIsShiftedAsAnswered(t *testing.T) {
	text := rows("date,hour,use", time.UTC, spring, time.Hour, 60, func(at time.Time, i int) string {
		return at.Format("2006-01-02,") + fmt.Sprintf("%d,%d.25", at.Hour()+1, i)
	})
	for interval, want := range map[string]string{"begin": "2026-03-28T00:00:00Z", "end": "2026-03-28T01:00:00Z"} {
		rep, err := FileWith("export.csv", strings.NewReader(text), Answers{Zone: "UTC", Interval: interval})
		if err != nil || rep.Open() || len(rep.Rows) == 0 || rep.Rows[0].Time != want {
			t.Errorf("%s: %v, %+v", interval, err, rep)
		}
	}
}

// TestYearPlace: the part of a date that never changes over months is the year; where every
// part could be, it is asked.
func TestYearPlace(t *testing.T) {
	day := func(layout string, days int) string {
		return rows("time,ppfd", time.UTC, time.Date(2011, 10, 1, 0, 0, 0, 0, time.UTC), 6*time.Hour, 4*days,
			func(at time.Time, i int) string { return at.Format(layout+" 15:04,") + fmt.Sprintf("%d.5", 400+i) })
	}
	months := "time,ppfd\n"
	for m := range 10 {
		months += fmt.Sprintf("01.%02d.2026 12:00,%d.5\n", m+1, 400+m)
	}
	zulu := Answers{Zone: "UTC"}
	for _, c := range []said{
		{"year first, two months", day("06.01.02", 61), zulu, "", "", "", ""},
		{"year last, two months", day("02.01.06", 61), zulu, "", "", "", ""},
		{"one day", day("06.01.02", 1), zulu, "", "", "time.format", "year first"},
		{"one day, year last", day("02.01.06", 1), zulu, "", "", "time.format", "year first"},
		{"one row on the first of each month", months, zulu, "", "", "time.format", "day first or month first"},
		{"three days, a row each", "time,ppfd\n10.11.12 12:00,400.5\n10.11.13 12:00,401.5\n10.11.14 12:00,402.5\n", zulu,
			"", "", "time.format", "year first"},
	} {
		t.Run(c.name, func(t *testing.T) {
			rep := c.hold(t)
			if c.key == "" && (len(rep.Rows) == 0 || rep.Rows[0].Time != "2011-10-01T00:00:00Z") {
				t.Errorf("the first row is %+v", rep.Rows)
			}
		})
	}
}

// TestOffsets: how far a clock is from UTC is written in hours or minutes, with or without a
// sign; what is neither says nothing.
func TestOffsets(t *testing.T) {
	for cell, want := range map[string]int64{
		"1": hour, "+1": hour, "-5": -5 * hour, "+01:00": hour, "-0330": -3*hour - 1800, "5.5": 5*hour + 1800, "-3.5": -3*hour - 1800,
		"UTC+2": 2 * hour, "GMT-3": -3 * hour, "60": hour, "-300": -5 * hour, "345": 5*hour + 2700, "0": 0, "14": 14 * hour,
	} {
		if got, ok := offsetOf(cell); !ok || got != want {
			t.Errorf("%q: %d %v, want %d", cell, got, ok, want)
		}
	}
	for _, cell := range []string{"", "summer", "9000", "-9000", "12:00:00"} {
		if got, ok := offsetOf(cell); ok {
			t.Errorf("%q is taken for %d", cell, got)
		}
	}
}
