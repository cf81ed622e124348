package inspect

import (
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"
)

// freshLayouts were written when the code was done, to see what it makes of files
// that nobody had in mind.
func freshLayouts() []layout {
	plain := func(name, delim string, comma bool, head, order string, stamp func(time.Time) []string) layout {
		return layout{name: name, make: func(c content) invented {
			return tableOf(c, delim, comma, strings.Split(head, "|"), stamp, order)
		}}
	}
	return []layout{
		plain("French dates and clock with h", ";", true, "Horodatage", "dmy",
			func(t time.Time) []string { return []string{t.Format("02/01/2006 15h04")} }),
		plain("slashes, year first, twelve hours", ",", false, "Recorded at", "",
			func(t time.Time) []string { return []string{t.Format("2006/1/2 03:04:05 PM")} }),
		plain("date and hhmmss in digits", ";", false, "DATE|TIME", "",
			func(t time.Time) []string { return []string{t.Format("20060102"), t.Format("150405")} }),
		plain("clock before the date in columns", ",", false, "Time|Date", "",
			func(t time.Time) []string { return []string{t.Format("15:04:05"), t.Format("2006-01-02")} }),
		plain("day and month in words, comma", ";", false, "Date", "",
			func(t time.Time) []string { return []string{t.Format("Monday, 2 January 2006 15:04")} }),
		plain("basic ISO with Z", "\t", false, "utc", "",
			func(t time.Time) []string { return []string{t.UTC().Format("20060102T150405Z")} }),
		plain("dashes, month in words, two-digit year", ",", false, "Date", "dmy",
			func(t time.Time) []string { return []string{t.Format("02-Jan-06 15:04:05")} }),
		plain("milliseconds behind a comma", ";", false, "Zeit", "dmy",
			func(t time.Time) []string { return []string{t.Format("02.01.2006 15:04:05") + ",000"} }),
		plain("GMT behind the clock", ",", false, "time", "",
			func(t time.Time) []string { return []string{t.UTC().Format("2006-01-02 15:04:05") + " GMT"} }),
		plain("year, month, day in digits, decimal point, pipes", "|", false, "Y|M|D|H|Mi", "", func(t time.Time) []string {
			return []string{strconv.Itoa(t.Year()), t.Format("01"), t.Format("02"), t.Format("15"), t.Format("04")}
		}),
		fileOf("a counter and a battery beside", func(f *file) {
			f.extra = 1 << 20
			f.line("seq;time;ppfd;battery_v")
			for i := range f.rows {
				at := f.at(i)
				f.line(strconv.Itoa(9000+i), at.Format(";2006-01-02 15:04:05;"), f.val(at, 1), ";", f.val(at, 2))
			}
		}),
		fileOf("blank lines between days", func(f *file) {
			f.line("time,ppfd")
			for i := range f.rows {
				at := f.at(i)
				if i > 0 && f.at(i-1).Day() != at.Day() {
					f.line("")
				}
				f.line(at.Format("2006-01-02 15:04:05,"), f.val(at, 1))
			}
		}),
		fileOf("an average at the end", func(f *file) {
			f.mayAsk = true
			f.line("time,ppfd")
			for i := range f.rows {
				at := f.at(i)
				f.line(at.Format("2006-01-02 15:04:05,"), f.val(at, 1))
			}
			f.line("Average,412.5")
		}),
		fileOf("points as thousands, no decimals", func(f *file) {
			f.order, f.mayAsk = "dmy", true
			f.line("Datum;Lux")
			for i := range f.rows {
				at, n := f.at(i), 900+37*i
				f.note(at, strconv.Itoa(n))
				text := strconv.Itoa(n)
				if n >= 1000 {
					text = fmt.Sprintf("%d.%03d", n/1000, n%1000)
				}
				f.line(at.Format("02.01.2006 15:04;"), text)
			}
		}),
		fileOf("channels of two sensors, long, local time", func(f *file) {
			f.order = "dmy"
			f.line("Logger;Kanal;Zeit;Wert")
			for _, s := range []string{"L1;PPFD", "L1;Temperatur", "L2;PPFD"} {
				for i := range f.rows / 2 {
					at := f.at(i)
					f.line(s, at.Format(";02.01.2006 15:04;"), comma(f.val(at, 1)))
				}
			}
		}),
		fileOf("the unit of each channel beside it", func(f *file) {
			f.line("time,sensor,channel,unit,value")
			for i := range f.rows / 2 {
				at := f.at(i)
				for _, s := range []string{"M1", "M2"} {
					f.line(at.Format("2006-01-02T15:04:05Z07:00,"), s, ",power,W,", f.note(at, strconv.Itoa(900+i%70)))
					f.line(at.Format("2006-01-02T15:04:05Z07:00,"), s, ",temp,degC,", f.note(at, strconv.Itoa(20+i%9)))
				}
			}
		}),
		fileOf("a flag column of letters", func(f *file) {
			f.line("time,value,quality")
			for i := range f.rows {
				at := f.at(i)
				f.line(at.Format("2006-01-02T15:04:05,"), f.val(at, 2), ",A")
			}
		}),
		fileOf("day a line, quarters by clock without colon", func(f *file) {
			f.mayAsk = true
			head := "date"
			for k := range 96 {
				head += "," + strings.ReplaceAll(clockOf(15*k), ":", "")
			}
			f.line(head)
			for d := range 20 {
				day := time.Date(2026, 1, 5+d, 0, 0, 0, 0, f.loc)
				line := day.Format("2006-01-02")
				for k := range 96 {
					line += "," + f.val(day.Add(time.Duration(k)*15*time.Minute), 2)
				}
				f.line(line)
			}
		}),
		fileOf("a year that is left out", func(f *file) {
			f.refuse = true
			f.line("Datum;PPFD")
			for i := range f.rows {
				at := f.at(i)
				f.line(at.Format("02.01. 15:04;"), f.val(at, 1))
			}
		}),
		fileOf("months a line", func(f *file) {
			f.refuse = true
			f.line("Monat;kWh")
			for i := range 12 {
				f.line(fmt.Sprintf("2025-%02d;", i+1), f.val(f.at(i), 1))
			}
		}),
		fileOf("decimal commas between commas, no header", func(f *file) {
			f.refuse = true
			for i := range f.rows {
				at := f.at(i)
				f.line(at.Format("2006-01-02 15:04,"), comma(f.val(at, 1)), ",", comma(f.val(at, 2)))
			}
		}),
	}
}

// TestFreshLayouts: none of them is read silently wrong; how many are read is told.
func TestFreshLayouts(t *testing.T) { judgeLayouts(t, byContent("fresh"), freshLayouts()) }
