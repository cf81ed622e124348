package inspect

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// oddLayouts are tables that are not one stamp and its values a line.
func oddLayouts() []layout {
	stamp := func(t time.Time) string { return t.Format("2006-01-02 15:04") }
	german := func(t time.Time) string { return t.Format("02.01.2006 15:04") }
	return []layout{
		{name: "a day a line, 24 clocks", make: dayWide(24, func(k, step int) string { return clockOf(k * step) }, 0)},
		{name: "a day a line, 48 intervals", make: dayWide(48,
			func(k, step int) string { return clockOf(k*step) + " - " + clockOf((k+1)*step) }, 0)},
		{name: "a day a line, 96 intervals", make: dayWide(96,
			func(k, step int) string { return clockOf(k*step) + "-" + clockOf((k+1)*step%1440) }, 0)},
		{name: "a day a line, 96 clocks at the end", make: dayWideAnswered("end", 96,
			func(k, step int) string { return clockOf((k + 1) * step) }, 1)},
		{name: "a day a line, hours from 0", make: dayWide(24, func(k, _ int) string { return fmt.Sprintf("H%02d", k) }, 0)},
		{name: "a day a line, hours from 1, stored at the end",
			make: dayWideAnswered("end", 24, func(k, _ int) string { return strconv.Itoa(k + 1) }, 1)},
		{name: "a day a line, quarters from 1, stored at the beginning",
			make: dayWideAnswered("begin", 96, func(k, _ int) string { return fmt.Sprintf("Q%d", k+1) }, 0)},
		{name: "a day a line with a meter and a sum", make: dayWideBeside},
		{name: "interval in one cell", make: func(c content) invented {
			return tableOf(c, ";", true, []string{"Zeitraum"}, func(t time.Time) []string {
				return []string{german(t) + " - " + t.Add(c.step).Format("15:04")}
			}, "dmy")
		}},
		{name: "interval with both dates", make: func(c content) invented {
			return tableOf(c, ";", true, []string{"von - bis"},
				func(t time.Time) []string { return []string{german(t) + " - " + german(t.Add(c.step))} }, "dmy")
		}},
		{name: "interval of ISO stamps", make: func(c content) invented {
			return tableOf(c, ";", false, []string{"period"}, func(t time.Time) []string {
				return []string{t.UTC().Format(time.RFC3339) + "/" + t.Add(c.step).UTC().Format(time.RFC3339)}
			}, "")
		}},
		{name: "date and an interval of clocks", make: func(c content) invented {
			return tableOf(c, ",", false, []string{"Date", "Time"}, func(t time.Time) []string {
				return []string{t.Format("2006-01-02"), t.Format("15:04") + "-" + t.Add(c.step).Format("15:04")}
			}, "")
		}},
		{name: "date, clock from, clock to", make: func(c content) invented {
			return tableOf(c, ";", true, []string{"Datum", "von", "bis"}, func(t time.Time) []string {
				return []string{t.Format("02.01.2006"), t.Format("15:04"), t.Add(c.step).Format("15:04")}
			}, "dmy")
		}},
		{name: "from and to in full", make: func(c content) invented {
			return tableOf(c, ",", false, []string{"start", "end"},
				func(t time.Time) []string { return []string{stamp(t), stamp(t.Add(c.step))} }, "")
		}},
		{name: "a UTC column beside the local one", make: func(c content) invented {
			return tableOf(c, ",", false, []string{"Time (local)", "Time (UTC)"},
				func(t time.Time) []string { return []string{stamp(t), stamp(t.UTC())} }, "")
		}},
		{name: "a numbered family beside another", make: families},
		{name: "fixtures numbered", make: fixtures},
		{name: "field, value and tags", make: fieldAndTags},
		{name: "an entity, its state and its change", make: history},
		{name: "rooms and sensors in two columns", make: tags},
		{name: "a meter id and a table number", make: ids},
		{name: "a status of numbers beside values", make: status},
		{name: "a total at the end", make: total(true)},
		{name: "a total without a stamp at the end", make: total(false)},
		{name: "decimal commas between commas", make: commas},
		{name: "decimal commas of three digits", make: func(c content) invented {
			f := c.file()
			f.order = "dmy"
			f.line("Datum;Zeit;Zählerstand")
			v := 300.0
			for i := range c.rows {
				at := c.at(i)
				v += f.rnd.Float64()
				f.line(at.Format("02.01.06;15:04;"), comma(f.note(at, strconv.FormatFloat(v, 'f', 2, 64)+"0")))
			}
			return f.done()
		}},
		{name: "units in cells", make: units},
		{name: "words for no value", make: words},
		{name: "AM and PM in other words", make: func(c content) invented {
			return tableOf(c, ";", false, []string{"Fecha y hora"}, func(t time.Time) []string {
				return []string{strings.NewReplacer("AM", "a. m.", "PM", "p. m.").Replace(t.Format("02/01/2006 3:04 PM"))}
			}, "dmy")
		}},
		{name: "months in other words", make: func(c content) invented {
			return tableOf(c, ";", true, []string{"Datum"}, func(t time.Time) []string {
				return []string{strings.NewReplacer("Jan", "januari", "Feb", "februari", "Mar", "maart", "Dec", "december", "Apr",
					"april").Replace(t.Format("2 Jan 2006 15:04"))}
			}, "")
		}},
		{name: "titles like an ini file", make: ini},
		{name: "comments above", make: commented},
		{name: "a line of units, and one of descriptions", make: threeLines},
		{name: "quotes everywhere", make: quoted},
		{name: "newest first", make: newest},
		{name: "thousands marks", make: thousands},
		{name: "no header", make: func(c content) invented {
			w := tableOf(c, ";", true, []string{"x"}, one("02.01.2006 15:04"), "dmy")
			_, w.text, _ = strings.Cut(w.text, "\n")
			return w
		}},
		{name: "a zone in the title", make: func(c content) invented {
			w := tableOf(c, ",", false, []string{"Time"}, func(t time.Time) []string { return []string{stamp(t.UTC().Add(2 * time.Hour))} }, "")
			w.text, w.zone = "Logger 12, clock GMT+02:00\n"+w.text, ""
			return w
		}},
		{name: "a long file", make: long},
		{name: "the clock left out at midnight", make: func(c content) invented {
			return tableOf(c, ";", true, []string{"Datum"}, func(t time.Time) []string {
				return []string{strings.TrimSuffix(german(t), " 00:00")}
			}, "dmy")
		}},
		{name: "by hand, once a week or so", make: byHand},
		{name: "daily, ISO dates", make: daily("2006-01-02", "")},
		{name: "daily, dotted dates", make: daily("02.01.2006", "dmy")},
		{name: "daily, two-digit years first", make: daily("06.01.02", "ymd")},
		{name: "daily, digits", make: daily("20060102", "")},
	}
}

func dayWide(count int, label func(k, step int) string, shift int) func(content) invented {
	return dayWideAnswered("", count, label, shift)
}

// dayWideAnswered writes a day a line, whose values are stored shift columns after
// their place in it.
func dayWideAnswered(answer string, count int, label func(k, step int) string, shift int) func(content) invented {
	return func(c content) invented {
		f := c.file()
		f.order, f.interval = "dmy", answer
		step := 1440 / count
		head := "Giorno"
		for k := range count {
			head += ";" + label(k, step)
		}
		f.line(head)
		for d := range 20 {
			day := time.Date(2026, 1, 5+d, 0, 0, 0, 0, c.loc)
			line := day.Format("02/01/2006")
			for k := range count {
				line += ";" + comma(f.val(day.Add(time.Duration((k+shift)*step)*time.Minute), 3))
			}
			f.line(line)
		}
		return f.done()
	}
}

func dayWideBeside(c content) invented {
	f := c.file()
	head := "meter,date"
	for k := range 24 {
		head += fmt.Sprintf(",%02d:00", k)
	}
	f.line(head + ",total")
	for d := range 30 {
		day := time.Date(2026, 1, 5+d, 0, 0, 0, 0, c.loc)
		line := "M77," + day.Format("2006-01-02")
		for k := range 24 {
			line += "," + f.val(day.Add(time.Duration(k)*time.Hour), 2)
		}
		f.line(line, ",1234.5")
	}
	return f.done()
}

func families(c content) invented {
	f := c.file()
	f.extra = 1 << 20
	f.line("ean,date,reading1,usage1,reading2,usage2,reading3,usage3")
	for i := range c.rows {
		at := c.at(i)
		line := "871600000000000001," + at.Format("2006-01-02 15:04")
		for range 6 {
			line += "," + f.val(at, 1)
		}
		f.line(line)
	}
	return f.done()
}

func fixtures(c content) invented {
	f := c.file()
	f.line("time;F001 PPFD;F002 PPFD;F003 PPFD;F004 PPFD;F005 PPFD")
	for i := range c.rows {
		at := c.at(i)
		line := at.Format("2006-01-02 15:04")
		for range 5 {
			line += ";" + comma(f.val(at, 1))
		}
		f.line(line)
	}
	return f.done()
}

func fieldAndTags(c content) invented {
	f := c.file()
	f.extra = 1 << 20
	f.line("result,table,_time,_value,_field,host")
	for k, field := range []string{"ppfd", "temp"} {
		for h, host := range []string{"north", "south"} {
			for i := range c.rows / 2 {
				at := c.at(i)
				f.line(fmt.Sprintf(",%d,%s,%s,%s,%s", 2*k+h, at.UTC().Format(time.RFC3339), f.val(at, 2), field, host))
			}
		}
	}
	return f.done()
}

func history(c content) invented {
	f := c.file()
	f.line("entity_id,state,last_changed")
	for i := range c.rows {
		for k, name := range []string{"sensor.bay1_light", "sensor.bay2_light", "sensor.bay1_power"} {
			at := c.at(i).Add(time.Duration(k*17) * time.Second)
			if i%40 == 7 {
				f.line(name, ",unavailable,", at.UTC().Format("2006-01-02T15:04:05.000Z"))
				continue
			}
			f.line(name, ",", f.val(at, 1), ",", at.UTC().Format("2006-01-02T15:04:05.000Z"))
		}
	}
	return f.done()
}

func tags(c content) invented {
	f := c.file()
	f.line("room;sensor;time;PPFD;Temperature")
	for i := range c.rows / 2 {
		at := c.at(i)
		for _, name := range []string{"veg;1", "veg;2", "flower;1", "flower;2"} {
			f.line(name, ";", at.Format("2006-01-02 15:04;"), f.val(at, 1), ";", f.val(at, 2))
		}
	}
	return f.done()
}

func ids(c content) invented {
	f := c.file()
	f.extra = 0
	f.line("meter_id;table;time;power")
	for i := range c.rows {
		at := c.at(i)
		f.line("40021733;0;", at.Format("2006-01-02 15:04;"), f.val(at, 2))
	}
	return f.done()
}

func status(c content) invented {
	f := c.file()
	f.extra = 1 << 20
	f.line("time,PPFD,state,supply")
	for i := range c.rows {
		at := c.at(i)
		f.line(at.Format("2006-01-02 15:04:05,"), f.val(at, 1), ",", f.val(at, 2), ",", f.val(at, 1))
	}
	return f.done()
}

func total(stamped bool) func(content) invented {
	return func(c content) invented {
		f := c.file()
		f.order = "dmy"
		f.line("Datum;Verbruik")
		sum := 0
		for i := range c.rows {
			at := c.at(i)
			v := 10 + f.rnd.IntN(900)
			sum += v
			f.line(at.Format("02-01-2006 15:04;"), f.note(at, strconv.Itoa(v)))
		}
		if stamped {
			f.mayAsk = true
			f.line(c.at(c.rows).Format("02-01-2006 15:04;"), strconv.Itoa(sum))
		} else {
			f.line("Totaal;", strconv.Itoa(sum))
		}
		return f.done()
	}
}

func commas(c content) invented {
	w := tableOf(c, ",", true, []string{"time"}, one("2006-01-02 15:04"), "")
	w.refuse = true
	return w
}

func units(c content) invented {
	f := c.file()
	f.line("time;temp;light;hum")
	for i := range c.rows {
		at := c.at(i)
		f.line(at.Format("2006-01-02 15:04;"), comma(f.val(at, 1)), " °C;", comma(f.val(at, 2)), " umol/m2/s;", f.val(at, 0),
			"%")
	}
	return f.done()
}

func words(c content) invented {
	f := c.file()
	f.line("time,PPFD,temp")
	for i := range c.rows {
		at := c.at(i)
		cells := []string{"NaN", "err"}
		if i%9 != 3 {
			cells[0] = f.val(at, 1)
		}
		if i%11 != 5 {
			cells[1] = f.val(at, 2)
		}
		f.line(at.Format("2006-01-02 15:04:05,"), strings.Join(cells, ","))
	}
	return f.done()
}

func ini(c content) invented {
	w := tableOf(c, ";", false, []string{"DATE/TIME"}, one("02/01/2006 15:04:05"), "dmy")
	w.text = "[Report]\nMODEL=LX-2\nSERIAL : 000123\nSTART : 01/01/1900\n+-----+ channels +-----+\n\n" + w.text
	return w
}

func commented(c content) invented {
	w := tableOf(c, ",", false, []string{"# time"}, one("2006-01-02T15:04:05Z07:00"), "")
	w.text = "# Coding: utf-8\n# a table of readings, parted by commas\n#\n" + w.text
	return w
}

func threeLines(c content) invented {
	w := tableOf(c, ",", false, []string{"TIMESTAMP"}, one("2006-01-02 15:04:05"), "")
	head, rest, _ := strings.Cut(w.text, "\n")
	w.text = "\"TOA\",\"station 7\",\"model\"\n" + head + "\n" + unitsLine(c.cols) + "\n" + strings.Repeat(",Avg",
		c.cols) + "\n" + rest
	return w
}

func unitsLine(n int) string {
	return "TS," + strings.Join([]string{"umol/m2/s", "V", "degC", "%", "A"}[:n], ",")
}

func quoted(c content) invented {
	w := tableOf(c, ";", true, []string{"Zeit"}, one("02.01.2006 15:04:05"), "dmy")
	var b strings.Builder
	for line := range strings.Lines(w.text) {
		b.WriteString(`"` + strings.ReplaceAll(strings.TrimSpace(line), ";", `";"`) + "\"\r\n")
	}
	w.text = b.String()
	return w
}

func newest(c content) invented {
	w := tableOf(c, ",", false, []string{"time"}, one("2006-01-02 15:04:05Z07:00"), "")
	lines := strings.Split(strings.TrimSpace(w.text), "\n")
	for i, j := 1, len(lines)-1; i < j; i, j = i+1, j-1 {
		lines[i], lines[j] = lines[j], lines[i]
	}
	w.text = strings.Join(lines, "\n") + "\n"
	return w
}

func thousands(c content) invented {
	f := c.file()
	f.order = "dmy"
	f.line("Datum;Zählerstand (kWh);Spannung (V)")
	for i := range c.rows {
		at := c.at(i)
		n := 12000 + 7*i
		f.note(at, fmt.Sprintf("%d.5", n))
		f.line(at.Format("02.01.2006 15:04;"), fmt.Sprintf("%d.%03d,5;", n/1000, n%1000), comma(f.val(at, 1)))
	}
	return f.done()
}

func long(c content) invented {
	f := c.file()
	f.line("timestamp,sensor,parameter,value,unit")
	for i := range c.rows / 2 {
		at := c.at(i)
		for _, s := range []string{"b1", "b2"} {
			f.line(at.Format("2006-01-02 15:04:05,"), s, ",PPFD,", f.val(at, 1), ",umol/m2/s")
			f.line(at.Format("2006-01-02 15:04:05,"), s, ",temperature,", f.val(at, 2), ",degC")
		}
	}
	return f.done()
}

func byHand(c content) invented {
	f := c.file()
	f.order = "dmy"
	f.line("Datum;Uhrzeit;Stand")
	at := c.start.In(c.loc)
	for i := range 14 {
		at = time.Date(at.Year(), at.Month(), at.Day()+5+i%4, 7+i%3, 11, 0, 0, c.loc)
		f.line(at.Format("02.01.2006;15:04;"), comma(f.note(at, fmt.Sprintf("%d.5", 4000+31*i))))
	}
	return f.done()
}

func daily(form, order string) func(content) invented {
	return func(c content) invented {
		f := c.file()
		f.order = order
		f.line("day,energy,peak")
		for d := range 60 {
			at := time.Date(c.start.Year(), c.start.Month(), c.start.Day()+d, 0, 0, 0, 0, c.loc)
			f.line(at.Format(form), ",", f.val(at, 2), ",", f.val(at, 0))
		}
		return f.done()
	}
}
