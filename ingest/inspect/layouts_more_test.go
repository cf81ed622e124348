package inspect

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// moreLayouts are tables as portals, spreadsheets and people write them.
func moreLayouts() []layout {
	iso := func(t time.Time) string { return t.Format("2006-01-02 15:04") }
	hourly := func(c content) content { c.start, c.step = c.start.Truncate(time.Hour), time.Hour; return c }
	stamps := func(delim string, comma bool, order string, head []string,
		stamp func(content, time.Time) []string) func(content) invented {
		return func(c content) invented {
			return tableOf(c, delim, comma, head, func(t time.Time) []string { return stamp(c, t) }, order)
		}
	}
	hours := func(delim string, head []string, answer string, mayAsk bool,
		cell func(time.Time) []string) func(content) invented {
		return func(c content) invented {
			w := tableOf(hourly(c), delim, false, head, cell, "dmy")
			w.interval, w.mayAsk = answer, mayAsk
			return w
		}
	}
	return []layout{
		{name: "portal titles and a footer", make: portal},
		{name: "pipes at both ends", make: pipes},
		{name: "time in the last column", make: timeLast},
		{name: "a zone in the name of the time", make: func(c content) invented {
			w := tableOf(c, ",", false, []string{"Time (UTC+1)"},
				func(t time.Time) []string { return []string{iso(t.UTC().Add(time.Hour))} }, "")
			w.zone = ""
			return w
		}},
		{name: "hours from 1 to 24 beside the date", make: hours(";", []string{"Datum", "Uur"}, "", true,
			func(t time.Time) []string {
				return []string{t.Add(-time.Hour).Format("02-01-2006"), strconv.Itoa(t.Add(-time.Hour).Hour() + 1)}
			})},
		{name: "hours from 0 to 23 beside the date", make: hours(",", []string{"date", "hour"}, "", false,
			func(t time.Time) []string {
				return []string{t.Format("2006-01-02"), strconv.Itoa(t.Hour())}
			})},
		{name: "hours as ranges beside the date", make: hours(";", []string{"Datum", "Stunde"}, "", false,
			func(t time.Time) []string {
				return []string{t.Format("02.01.2006"), fmt.Sprintf("%02d-%02d", t.Hour(), t.Hour()+1)}
			})},
		{name: "nine decimals of the second", make: stamps(",", false, "", []string{"ts"},
			func(_ content, t time.Time) []string { return []string{t.Format("2006-01-02 15:04:05.000000000")} })},
		{name: "halves of the day in a column", make: stamps(",", false, "mdy", []string{"Date", "Time", ""},
			func(_ content, t time.Time) []string {
				return []string{t.Format("01/02/2006"), t.Format("03:04"), t.Format("PM")}
			})},
		{name: "a weekday in a column", make: stamps(";", true, "dmy", []string{"Datum", "Tag", "Zeit"},
			func(_ content, t time.Time) []string {
				return []string{t.Format("02.01.2006"), t.Format("Mon"), t.Format("15:04")}
			})},
		{name: "an offset in a column", make: stamps(",", false, "", []string{"time", "offset"},
			func(_ content, t time.Time) []string {
				return []string{t.Format("2006-01-02 15:04:05"), t.Format("-07:00")}
			})},
		{name: "two times and their values", make: pairs},
		{name: "an hour a line, its quarters in columns", make: quarters},
		{name: "times across, sensors down", make: transposed},
		{name: "units that change from row to row", make: mixedUnits},
		{name: "a unit beside each value", make: unitBeside},
		{name: "numbers made text for spreadsheets", make: formulas},
		{name: "marks behind estimated values", make: estimated},
		{name: "dates only where they change", make: dateOnce},
		{name: "half a day's clock without its half", make: func(c content) invented {
			w := tableOf(c, ",", false, []string{"Date", "Time"}, one("01/02/2006\x0003:04"), "mdy")
			w.mayAsk = true
			return w
		}},
		{name: "sorted by value", make: shuffled},
		{name: "record numbers", make: recorded},
		{name: "two rows of names", make: twoNames},
		{name: "min, max and mean", make: func(c content) invented {
			w := tableOf(c, ";", true, []string{"Zeit"}, one("02.01.2006 15:04"), "dmy")
			_, rest, _ := strings.Cut(w.text, "\n")
			w.text = strings.Join([]string{"Zeit", "Licht min", "Licht max", "Licht mittel", "x"}[:1+c.cols], ";") + "\n" + rest
			return w
		}},
		{name: "a restarted logger", make: restarted},
		{name: "gaps and blanks", make: gappy},
		{name: "serial numbers in a title", make: func(c content) invented {
			w := tableOf(c, ",", false, []string{"Date Time"}, one("01/02/2006 15:04:05"), "mdy")
			w.text = "Serial No: 20771203\nExported 03/04/2026 at 05:06\n\n" + w.text
			return w
		}},
	}
}

func portal(c content) invented {
	f := c.file()
	f.order = "dmy"
	f.eol = "\r\n"
	f.line("Plant: hall 3")
	f.line("Report period;01.01.2026;31.01.2026")
	f.line("")
	f.line("Date;Consumption;Peak")
	f.line(";[kWh];[kW]")
	for i := range c.rows {
		at := c.at(i)
		f.line(at.Format("02.01.2006 15:04;"), comma(f.val(at, 2)), ";", comma(f.val(at, 1)))
	}
	f.line("")
	f.line("Sum;12345,6;")
	return f.done()
}

func pipes(c content) invented {
	f := c.file()
	f.line("| time | PPFD | temp |")
	for i := range c.rows {
		at := c.at(i)
		f.line("| ", at.Format("2006-01-02 15:04"), " | ", f.val(at, 1), " | ", f.val(at, 2), " |")
	}
	return f.done()
}

func timeLast(c content) invented {
	f := c.file()
	f.extra = 1 << 20
	f.line("id,value,unit,timestamp")
	for i := range c.rows {
		at := c.at(i)
		f.line("771,", f.val(at, 2), ",kWh,", at.UTC().Format(time.RFC3339))
	}
	return f.done()
}

func pairs(c content) invented {
	f := c.file()
	f.mayAsk = true
	f.line("Time A;Value A;Time B;Value B")
	for i := range c.rows {
		a, b := c.at(i), c.at(i).Add(time.Duration(i)*7*time.Second)
		f.line(a.Format("2006-01-02 15:04:05;"), f.val(a, 1), b.Format(";2006-01-02 15:04:05;"), f.val(b, 1))
	}
	return f.done()
}

func quarters(c content) invented {
	f := c.file()
	f.mayAsk = true
	f.line("time,:00,:15,:30,:45")
	for i := range c.rows / 4 {
		at := c.start.Truncate(time.Hour).Add(time.Duration(i) * time.Hour).In(c.loc)
		line := at.Format("2006-01-02 15:04")
		for q := range 4 {
			line += "," + f.val(at.Add(time.Duration(q)*15*time.Minute), 2)
		}
		f.line(line)
	}
	return f.done()
}

func transposed(c content) invented {
	f := c.file()
	f.refuse = true
	head := "sensor"
	for i := range 40 {
		head += "," + c.at(i).Format("2006-01-02 15:04")
	}
	f.line(head)
	for k := range 6 {
		line := fmt.Sprintf("s%d", k)
		for i := range 40 {
			line += "," + f.val(c.at(i), 1)
		}
		f.line(line)
	}
	return f.done()
}

func mixedUnits(c content) invented {
	f := c.file()
	f.mayAsk = true
	f.line("time,value,unit")
	for i := range c.rows {
		at := c.at(i)
		f.line(at.UTC().Format(time.RFC3339), ",", f.val(at, 2), ",", []string{"kWh", "Wh"}[i/7%2])
	}
	return f.done()
}

func unitBeside(c content) invented {
	f := c.file()
	f.line("time;temp;;hum;")
	for i := range c.rows {
		at := c.at(i)
		f.line(at.Format("2006-01-02 15:04;"), f.val(at, 1), ";degC;", f.val(at, 1), ";%")
	}
	return f.done()
}

func formulas(c content) invented {
	f := c.file()
	f.mayAsk = true
	f.line(`time,PPFD`)
	for i := range c.rows {
		at := c.at(i)
		f.line(at.Format("2006-01-02 15:04,"), `="`, f.val(at, 1), `"`)
	}
	return f.done()
}

func estimated(c content) invented {
	f := c.file()
	f.mayAsk = true
	f.line("time;kWh")
	for i := range c.rows {
		at := c.at(i)
		mark := ""
		if i%5 == 2 {
			mark = "*"
		}
		f.line(at.Format("2006-01-02 15:04;"), f.val(at, 1), mark)
	}
	return f.done()
}

func dateOnce(c content) invented {
	f := c.file()
	f.order, f.mayAsk = "dmy", true
	f.line("Datum;Zeit;PPFD")
	for i := range c.rows {
		at := c.at(i)
		date := ""
		if i == 0 || c.at(i-1).Day() != at.Day() {
			date = at.Format("02.01.2006")
		}
		f.line(date, at.Format(";15:04;"), f.val(at, 1))
	}
	return f.done()
}

func shuffled(c content) invented {
	w := tableOf(c, ",", false, []string{"time"}, one("2006-01-02 15:04:05Z07:00"), "")
	lines := strings.Split(strings.TrimSpace(w.text), "\n")
	c.rnd.Shuffle(len(lines)-1, func(i, j int) { lines[i+1], lines[j+1] = lines[j+1], lines[i+1] })
	w.text, w.mayAsk = strings.Join(lines, "\n")+"\n", true
	return w
}

func recorded(c content) invented {
	f := c.file()
	f.line("#,Date Time,PPFD,Host connected")
	for i := range c.rows {
		at := c.at(i)
		f.line(strconv.Itoa(i+1), at.Format(",2006-01-02 15:04:05,"), f.val(at, 1), ",")
	}
	return f.done()
}

func twoNames(c content) invented {
	f := c.file()
	f.line(";Bay 1;;Bay 2;")
	f.line("Zeit;PPFD;Temp;PPFD;Temp")
	for i := range c.rows {
		at := c.at(i)
		f.line(at.Format("2006-01-02 15:04;"), f.val(at, 1), ";", f.val(at, 2), ";", f.val(at, 1), ";", f.val(at, 2))
	}
	return f.done()
}

func restarted(c content) invented {
	f := c.file()
	for i := range c.rows {
		if i%100 == 0 {
			f.line("Logger started")
			f.line("time,PPFD,temp")
		}
		at := c.at(i)
		f.line(at.Format("2006-01-02 15:04:05,"), f.val(at, 1), ",", f.val(at, 2))
	}
	return f.done()
}

func gappy(c content) invented {
	f := c.file()
	f.order = "dmy"
	f.line("Datum;PPFD;Temp")
	for i := range c.rows {
		at := c.at(i)
		if i%50 > 40 {
			continue
		}
		cell := ""
		if i%3 == 0 {
			cell = comma(f.val(at, 1))
		}
		f.line(at.Format("02.01.2006 15:04;"), cell, ";", comma(f.val(at, 2)))
	}
	return f.done()
}
