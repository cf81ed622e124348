package inspect

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// invented is an invented file with the readings that a right description gives of
// it, as moment (microseconds) and value.
type invented struct {
	text           string
	truth          map[truth]int
	zone, order    string // what a person would answer
	interval       string
	extra          int  // readings of ids and the like that may be kept besides
	mayAsk, refuse bool // it can be read two ways: asking is right; it must be refused
}

type truth struct {
	at    int64
	value string
}

// content is what a layout is filled with: moments of one cadence and values.
type content struct {
	rnd   *rand.Rand
	loc   *time.Location
	start time.Time
	step  time.Duration
	rows  int
	cols  int
}

func contents() []content {
	zone := func(name string) *time.Location {
		l, err := time.LoadLocation(name)
		if err != nil {
			panic(err)
		}
		return l
	}
	ams := zone("Europe/Amsterdam")
	return []content{
		{rand.New(rand.NewPCG(1, 1)), ams, time.Date(2026, 1, 9, 0, 0, 0, 0, ams), 15 * time.Minute, 480,
			3}, // days above 12 come late
		{rand.New(rand.NewPCG(2, 2)), zone("America/New_York"), time.Date(2025, 12, 30, 6, 0, 0, 0, time.UTC), time.Hour, 120,
			2}, // over the year's end
		{rand.New(rand.NewPCG(3, 3)), ams, time.Date(2026, 3, 27, 22, 30, 0, 0, time.UTC), 10 * time.Minute, 350,
			3}, // over the night of a change
		{rand.New(rand.NewPCG(4, 4)), ams, time.Date(2025, 10, 24, 22, 0, 0, 0, time.UTC), 15 * time.Minute, 250,
			2}, // over the night when an hour comes twice
	}
}

// at is the moment of row i.
func (c content) at(i int) time.Time { return c.start.Add(time.Duration(i) * c.step).In(c.loc) }

// file collects a invented file.
type file struct {
	content
	invented
	lines []string
	eol   string
}

func (c content) file() *file {
	return &file{content: c, invented: invented{truth: map[truth]int{}, zone: c.loc.String()}, eol: "\n"}
}

// val makes a value of some decimals, and notes that it is stored at a moment.
func (f *file) val(at time.Time, decimals int) string {
	return f.note(at, strconv.FormatFloat(f.rnd.Float64()*100+20, 'f', decimals, 64))
}

func (f *file) note(at time.Time, v string) string {
	f.truth[truth{at.UnixMicro(), plainNumber(v)}]++
	return v
}

func plainNumber(v string) string {
	x, err := strconv.ParseFloat(v, 64)
	if err != nil {
		panic(err)
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

func (f *file) line(cells ...string) { f.lines = append(f.lines, strings.Join(cells, "")) }

// each calls line with every row's number and moment.
func (f *file) each(line func(i int, at time.Time)) {
	for i := range f.rows {
		line(i, f.at(i))
	}
}

func (f *file) done() invented {
	f.text = strings.Join(f.lines, f.eol) + f.eol
	return f.invented
}

func comma(v string) string { return strings.Replace(v, ".", ",", 1) }

var measures = []string{"PPFD", "Supply voltage", "Air temp", "Humidity", "Current"}

// table writes a plain wide table: stamp gives the cells of the time.
func tableOf(c content, delim string, decimalComma bool, head []string, stamp func(time.Time) []string,
	order string) invented {
	f := c.file()
	f.order = order
	f.line(strings.Join(append(append([]string{}, head...), measures[:c.cols]...), delim))
	for i := range c.rows {
		at := c.at(i)
		cells := stamp(at)
		for k := range c.cols {
			v := f.val(at, 1+k%3)
			if decimalComma {
				v = comma(v)
			}
			cells = append(cells, v)
		}
		f.line(strings.Join(cells, delim))
	}
	return f.done()
}

// one gives a stamp of one cell in a layout of the time package.
func one(layout string) func(time.Time) []string {
	return func(t time.Time) []string { return strings.Split(t.Format(layout), "\x00") }
}

type layout struct {
	name string
	make func(content) invented

	extra int
}

// fileOf is a layout that a function writes.
func fileOf(name string, write func(f *file)) layout {
	return layout{name: name, make: func(c content) invented { f := c.file(); write(f); return f.done() }}
}

// plainLayouts are tables that differ in their stamps, delimiters and marks.
func plainLayouts() (out []layout) {
	for _, l := range []struct {
		stamp, head, order, delim string
		comma                     bool
	}{
		{"2006-01-02 15:04:05", "Time", "", ",", false}, {"2006-01-02 15:04", "timestamp", "", ";", true},
		{"2006-01-02T15:04:05", "time", "", "\t", false},
		{"2006-01-02T15:04:05Z07:00", "time", "", ",", false}, {"2006-01-02 15:04:05-07:00", "time", "", ";", true},
		{"2006-01-02T15:04:05.000Z07:00", "", "", ",", false},
		{"2006-01-02 15:04:05.000", "Date time", "", ";", true}, {"2006/01/02 15:04", "Date/Time", "", ",", false},
		{"2006.01.02 15:04", "Zeit", "", ";", true},
		{"02.01.2006 15:04", "Zeitpunkt", "dmy", ";", true}, {"02.01.2006 15:04:05", "Datum", "dmy", "\t", true},
		{"2.1.2006 15:04", "Datum", "dmy", ";", true},
		{"02/01/2006 15:04", "Date", "dmy", ",", false}, {"01/02/2006 15:04", "Date", "mdy", ",", false},
		{"1/2/2006 15:04", "Date", "mdy", ",", false},
		{"1/2/2006 3:04:05 PM", "Date Time", "mdy", ",", false}, {"01/02/2006 03:04 PM", "Date Time", "mdy", ",", false},
		{"02-01-2006 15:04", "Datum", "dmy", ";", true},
		{"02-Jan-2006 15:04", "Date", "", ",", false}, {"2 Jan 2006 15:04", "Date", "", ";", false},
		{"Jan 2, 2006 15:04:05", "Date", "", ";", false},
		{"Mon Jan 2 2006 15:04", "Date", "", ";", false}, {"Mon 02.01.2006 15:04", "Date", "dmy", ";", true},
		{"02.01.06 15:04", "Datum", "dmy", ";", true},
		{"01/02/06 15:04", "Date", "mdy", ",", false}, {"06.01.02 15:04", "Date", "ymd", ";", false},
		{"06-01-02 15:04", "Date", "ymd", ",", false}, {"06/01/02 15:04:05", "Date", "ymd", ",", false},
		{"20060102150405", "Timestamp", "", ",", false}, {"200601021504", "Timestamp", "", ";", false},
		{"20060102 1504", "Timestamp", "", ";", true}, {"20060102T150405", "time", "", ",", false},
		{"2006-01-02\x0015:04:05", "Date\x00Time", "", ",", false},
		{"02.01.2006\x0015:04", "Datum\x00Uhrzeit", "dmy", ";", true},
		{"01/02/2006\x003:04:05 PM", "Date\x00Time", "mdy", ",", false},
		{"02/01/06\x0015:04", "Date\x00Time", "dmy", "\t", false}, {"20060102\x001504", "Date\x00Time", "", ",", false},
		{"20060102\x00150405", "date\x00time", "", ";", true},
		{"2006-01-02_15-04-05", "time", "", ",", false}, {"15:04:05 02/01/2006", "when", "dmy", ";", false},
		{"2006-01-02 15.04", "Aika", "", ";", true}, {"02.01.2006 15h04", "Zeit", "dmy", ";", true},
		{"2006-002 15:04", "Date", "", ",", false}, {"2006-01-02 15:04:05 MST", "Time", "", ",", false},
		{"2006-01-02 15:04:05 MST-0700", "Time", "", ",", false},
		{"2006-01-02 15:04:05 -0700", "Time", "", ";", true}, {"2006年01月02日 15:04", "时间", "", ",", false},
		{"2006-01-02 15", "Hour", "", ",", false},
	} {
		name := strings.ReplaceAll(l.stamp, "\x00", l.delim) + " with " + strings.ReplaceAll(l.delim, "\t", "tab")
		out = append(out, layout{name: name, make: func(c content) invented {
			if strings.HasSuffix(l.stamp, " 15") && l.head == "Hour" {
				c.start, c.step = c.start.Truncate(time.Hour), time.Hour
			}
			return tableOf(c, l.delim, l.comma, strings.Split(l.head, "\x00"), one(l.stamp), l.order)
		}})
	}
	out = append(out, layout{name: "01 before the digits of the time", make: func(c content) invented {
		return tableOf(c, ";", true, []string{"Tijd"}, func(t time.Time) []string {
			return []string{"01" +
				t.Format("200601021504")}
		}, "")
	}})
	return out
}

// countedLayouts are tables whose stamps count.
func countedLayouts() (out []layout) {
	add := func(name string, stamp func(time.Time) []string) {
		out = append(out, layout{name: name, make: func(c content) invented {
			return tableOf(c, ",", false, []string{"time"},
				stamp, "")
		}},
			layout{name: name + ", under no name", make: func(c content) invented {
				return tableOf(c, ";", true, []string{""},
					stamp, "")
			}})
	}
	add("epoch seconds", func(t time.Time) []string { return []string{strconv.FormatInt(t.Unix(), 10)} })
	add("epoch milliseconds", func(t time.Time) []string { return []string{strconv.FormatInt(t.UnixMilli(), 10)} })
	add("epoch microseconds", func(t time.Time) []string { return []string{strconv.FormatInt(t.UnixMicro(), 10)} })
	add("epoch nanoseconds", func(t time.Time) []string { return []string{strconv.FormatInt(t.UnixNano(), 10)} })
	add("epoch with decimals", func(t time.Time) []string { return []string{fmt.Sprintf("%d.000", t.Unix())} })
	out = append(out, layout{name: "spreadsheet days", make: func(c content) invented {
		return tableOf(c, ",", false, []string{"Date"}, func(t time.Time) []string {
			_, off := t.Zone()
			days := float64(t.Unix()+int64(off))/86400 + 25569
			return []string{strconv.FormatFloat(days, 'f', 9, 64)}
		}, "")
	}})
	return out
}

// partLayouts are tables whose dates stand in parts.
func partLayouts() (out []layout) {
	add := func(name, delim string, head []string, stamp func(time.Time) []string) {
		out = append(out, layout{name: name, make: func(c content) invented {
			return tableOf(c, delim, false, head, stamp,
				"dmy")
		}})
	}
	n := strconv.Itoa
	add("year, month, day, hour, minute", ",", []string{"Year", "Month", "Day", "Hour", "Minute"},
		func(t time.Time) []string {
			return []string{n(t.Year()), n(int(t.Month())), n(t.Day()), n(t.Hour()), n(t.Minute())}
		})
	add("year, month, day, hour, minute, second in short", ";", []string{"YYYY", "MM", "DD", "hh", "mi", "ss"},
		func(t time.Time) []string {
			return []string{n(t.Year()), fmt.Sprintf("%02d", t.Month()), fmt.Sprintf("%02d", t.Day()),
				fmt.Sprintf("%02d", t.Hour()), fmt.Sprintf("%02d", t.Minute()), "00"}
		})
	add("Jahr, Monat, Tag, Stunde, Minute", ";", []string{"Jahr", "Monat", "Tag", "Stunde", "Minute"},
		func(t time.Time) []string {
			return []string{n(t.Year()), n(int(t.Month())), n(t.Day()), n(t.Hour()), n(t.Minute())}
		})
	add("year, day of year, hhmm", ",", []string{"Year", "DOY", "HHMM"}, func(t time.Time) []string {
		return []string{n(t.Year()), n(t.YearDay()), n(t.Hour()*100 + t.Minute())}
	})
	add("year, day of year, hour-minute under another name", ",", []string{"Year", "Jday", "LocalStd"},
		func(t time.Time) []string {
			return []string{n(t.Year()), n(t.YearDay()), n(t.Hour()*100 + t.Minute())}
		})
	add("date, hour, minute", ";", []string{"Date", "Hour", "Min"}, func(t time.Time) []string {
		return []string{t.Format("02.01.2006"), n(t.Hour()), n(t.Minute())}
	})
	add("parts under no names", ";", []string{"a", "b", "c", "d", "e"}, func(t time.Time) []string {
		return []string{n(t.Year()), n(int(t.Month())), n(t.Day()), n(t.Hour()), n(t.Minute())}
	})
	out[len(out)-1].extra = 200 // a column that is 0 throughout may be one of values
	add("day, month, year, then a clock", ";", []string{"Day", "Month", "Year", "Time"}, func(t time.Time) []string {
		return []string{n(t.Day()), n(int(t.Month())), n(t.Year()), t.Format("15:04")}
	})
	return out
}

// judgeWritten inspects a file as a person would and holds what is stored against
// the truth.
func judgeWritten(name string, w invented) (verdict, string) {
	got, v, proposal := judge(name, []byte(w.text), Answers{Zone: w.zone, Order: w.order, Interval: w.interval})
	if v.kind != right {
		return v, proposal
	}
	stored := map[truth]int{}
	n := 0
	for at, values := range got.at {
		for _, x := range values {
			stored[truth{at, strconv.FormatFloat(x, 'f', -1, 64)}]++
			n++
		}
	}
	want, missing := 0, 0
	example := ""
	for k, c := range w.truth {
		want += c
		if stored[k] < c {
			missing += c - stored[k]
			example = fmt.Sprintf("%s at %s", k.value, time.UnixMicro(k.at).UTC().Format(time.RFC3339))
		}
	}
	surplus := n - (want - missing)
	switch {
	case w.refuse:
		return verdict{wrong, "it was to be refused"}, proposal
	case got.clashes > 0:
		return verdict{wrong, fmt.Sprintf("%d readings contradict others", got.clashes)}, proposal
	case missing > 0 && int64(missing) <= 100*got.rejects: // a reject may be a line of many values
		return verdict{asks, fmt.Sprintf("%d of %d readings went to quarantine, such as %s", missing, want, example)},
			proposal
	case missing > 0:
		return verdict{wrong, fmt.Sprintf("%d of %d readings are missing, such as %s; %d others are stored", missing, want,
			example, surplus)}, proposal
	case surplus > w.extra:
		return verdict{wrong, fmt.Sprintf("%d readings are stored that are none", surplus)}, proposal
	}
	return v, proposal
}

// TestLayouts: layouts of our own with truth, several contents each.
func TestLayouts(t *testing.T) {
	all := layouts()
	names := map[string]bool{}
	for _, l := range all {
		if names[l.name] {
			t.Errorf("two layouts are named %q", l.name)
		}
		names[l.name] = true
	}
	count := judgeLayouts(t, func(k int, _ string) string { return fmt.Sprintf("meter_%d.csv", k) }, all)
	if files := len(all) * len(contents()); !raced && 10*count[right] < 9*files {
		t.Errorf("%d of %d invented files are read right, less than 90 %%", count[right], files)
	}
}

// byContent names the file of a content as one would whose first sign is this.
func byContent(called string) func(k int, text string) string {
	return func(k int, text string) string {
		if s := strings.TrimSpace(text); s[0] == '[' || s[0] == '{' {
			return fmt.Sprintf("%s_%d.json", called, k)
		}
		return fmt.Sprintf("%s_%d.csv", called, k)
	}
}

// judgeLayouts reads every layout with every content, as a file of a name: none may be read
// silently wrong, and how many are read is told and given.
func judgeLayouts(t *testing.T, name func(k int, text string) string, layouts []layout) map[string]int {
	t.Parallel()
	t.Helper()
	count := map[string]int{}
	for i, l := range layouts {
		for k, c := range contents() {
			if passedOver(i) || raced && k > 0 {
				break
			}
			w := l.make(c)
			w.extra += l.extra
			v, proposal := judgeWritten(name(k, w.text), w)
			if v.kind == asks && (w.refuse || w.mayAsk) {
				v = verdict{kind: right, why: v.why}
			}
			if count[v.kind]++; v.kind != right {
				t.Logf("%s, content %d: %s: %s", l.name, k+1, v.kind, v.why)
			}
			if v.kind == wrong {
				t.Errorf("%s, content %d, is read silently wrong: %s\n%s\n%s", l.name, k+1, v.why, w.text[:min(len(w.text), 400)],
					proposal)
			}
		}
	}
	t.Logf("%d layouts, %d files: %v", len(layouts), len(layouts)*len(contents()), count)
	return count
}

func layouts() []layout {
	all := append(plainLayouts(), countedLayouts()...)
	return slices.Concat(all, partLayouts(), oddLayouts(), moreLayouts())
}
