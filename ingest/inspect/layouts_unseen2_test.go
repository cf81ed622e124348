package inspect

import (
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"
)

// unseenLayouts2: a second set by another hand, kept for the end.
func unseenLayouts2() []layout {
	last := func(f *file, i int) string {
		if i == f.rows-1 {
			return ""
		}
		return ","
	}
	iso := "2006-01-02 15:04:05"
	return []layout{
		fileOf("a title, the zone in the time's name, marks at the end", func(f *file) {
			f.mayAsk = true
			zone := time.FixedZone("", 3600)
			f.line(`"Plot Title: Bench 4"`)
			f.line(`"#","Date Time, GMT+01:00","Light, umol/m2/s (S/N: 20417, LBL: top)","Connected","Stopped"`)
			f.each(func(i int, at time.Time) {
				f.line(strconv.Itoa(i+1), ",", at.In(zone).Format("01/02/06 03:04:05 PM"), ",", f.val(at, 1), ",,")
			})
			f.line(strconv.Itoa(f.rows+1), ",", f.at(f.rows).In(zone).Format("01/02/06 03:04:05 PM"), ",,Logged,Logged")
		}),
		fileOf("four header lines: station, names, units, how", func(f *file) {
			f.line(`"STATION","hall 4","model 6","1204"`)
			f.line(`"TIMESTAMP","RECORD","PAR_Avg","AirT_Avg"`)
			f.line(`"TS","RN","umol/m2/s","Deg C"`)
			f.line(`"","","Avg","Avg"`)
			f.each(func(i int, at time.Time) {
				b := `"NAN"`
				if i%9 != 4 {
					b = f.val(at, 2)
				}
				f.line(`"`, at.Format(iso), `",`, strconv.Itoa(i), ",", f.val(at, 1), ",", b)
			})
		}),
		fileOf("sep= in the first line", func(f *file) {
			f.order = "dmy"
			f.line("sep=;")
			f.line("Datum;Licht;Spannung")
			f.each(func(i int, at time.Time) {
				f.line(at.Format("02.01.2006 15:04:05;"), comma(f.val(at, 1)), ";", comma(f.val(at, 1)))
			})
		}),
		fileOf("the day in words, the clock in a column of its own", func(f *file) {
			f.line("Day;Time;PPFD")
			f.each(func(i int, at time.Time) {
				f.line(at.Format("Monday, January 2, 2006;3:04:05 PM;"), f.val(at, 1))
			})
		}),
		fileOf("milliseconds behind a colon", func(f *file) {
			f.line("stamp;ppfd")
			f.each(func(i int, at time.Time) { f.line(at.Format("2006-01-02 15:04:05")+":000;", f.val(at, 1)) })
		}),
		fileOf("a time for each value", func(f *file) {
			f.line("Time A;A;Time B;B")
			f.each(func(i int, at time.Time) {
				later := at.Add(3 * time.Minute)
				f.line(at.Format(iso), ";", f.val(at, 1), ";", later.Format(iso), ";", f.val(later, 1))
			})
		}),
		fileOf("quarters by their end, 00:15 to 24:00", func(f *file) {
			f.interval, f.mayAsk = "end", true
			head := "Datum"
			for k := 1; k <= 96; k++ {
				head += ";" + clockOf(15*k)
			}
			f.line(head)
			for d := range 20 {
				day := time.Date(2026, 1, 5+d, 0, 0, 0, 0, f.loc)
				l := day.Format("02.01.2006")
				for k := 1; k <= 96; k++ {
					l += ";" + comma(f.val(day.Add(time.Duration(k)*15*time.Minute), 2))
				}
				f.line(l)
			}
			f.order = "dmy"
		}),
		fileOf("JSON of lists side by side", func(f *file) {
			var at, v []string
			f.each(func(i int, t time.Time) {
				at, v = append(at, `"`+t.Format(time.RFC3339)+`"`), append(v, f.val(t, 1))
			})
			f.line(`{"meta":{"id":7},"data":{"timestamps":[`, strings.Join(at, ","), `],"values":[`, strings.Join(v, ","), `]}}`)
		}),
		fileOf("JSON keyed by moments", func(f *file) {
			f.line("{")
			f.each(func(i int, at time.Time) {
				f.line(fmt.Sprintf(`"%s":{"ppfd":%s,"u":%s}%s`, at.Format(time.RFC3339), f.val(at, 1), f.val(at, 1), last(f, i)))
			})
			f.line("}")
		}),
		fileOf("JSON lines with JSON as text in them", func(f *file) {
			f.each(func(i int, at time.Time) {
				f.line(fmt.Sprintf(`{"topic":"a/b","ts":"%s","payload":"{\"ppfd\":%s}"}`, at.Format(time.RFC3339), f.val(at, 1)))
			})
		}),
		fileOf("JSON of observations", func(f *file) {
			f.line(`{"value":[`)
			f.each(func(i int, at time.Time) {
				f.line(fmt.Sprintf(`{"id":%d,"phenomenonTime":"%s","resultTime":"%s","result":%s}%s`, 100+i,
					at.UTC().Format(time.RFC3339),
					at.Add(9*time.Second).UTC().Format(time.RFC3339), f.val(at, 1), last(f, i)))
			})
			f.line(`]}`)
			f.extra = 0
		}),
		fileOf("SenML with a base time", func(f *file) {
			f.line("[")
			f.each(func(i int, at time.Time) {
				head := ""
				if i == 0 {
					head = fmt.Sprintf(`"bn":"urn:dev:par1:","bt":%d,"n":"ppfd",`, at.Unix())
				} else {
					head = fmt.Sprintf(`"n":"ppfd","t":%d,`, int(at.Sub(f.at(0)).Seconds()))
				}
				f.line("{", head, `"v":`, f.val(at, 1), "}", last(f, i))
			})
			f.line("]")
		}),
		fileOf("points between thousands, comma for decimals", func(f *file) {
			f.order = "dmy"
			f.line("Zeit;Wert")
			f.each(func(i int, at time.Time) {
				v := fmt.Sprintf("%.2f", 600+float64(i)*4.25)
				f.note(at, v)
				v = comma(v)
				if len(v) > 6 {
					v = v[:len(v)-6] + "." + v[len(v)-6:]
				}
				f.line(at.Format("02.01.2006 15:04;"), v)
			})
		}),
		fileOf("blanks between, no header", func(f *file) {
			f.mayAsk = true
			f.each(func(i int, at time.Time) { f.line(at.Format(iso), " ", f.val(at, 1), " ", f.val(at, 1)) })
		}),
		fileOf("month in letters, hours of one digit", func(f *file) {
			f.line("Date\tTime\tPPFD")
			f.each(func(i int, at time.Time) {
				f.line(at.Format("2-Jan-2006\t"), strconv.Itoa(at.Hour()), at.Format(":04\t"), f.val(at, 1))
			})
		}),
		fileOf("ten digits for the moment", func(f *file) {
			f.mayAsk = true
			f.line("id,ppfd")
			f.each(func(i int, at time.Time) { f.line(at.Format("0601021504,"), f.val(at, 1)) })
		}),
		fileOf("days of a spreadsheet", func(f *file) {
			f.line("Time,PPFD")
			f.each(func(i int, at time.Time) {
				_, off := at.Zone()
				f.line(strconv.FormatFloat(25569+float64(at.Unix()+int64(off))/86400, 'f', 8, 64), ",", f.val(at, 1))
			})
		}),
		fileOf("rooms above, quantities below", func(f *file) {
			f.line(",Room A,,Room B,")
			f.line("time,ppfd,temp,ppfd,temp")
			f.each(func(i int, at time.Time) {
				f.line(at.Format(iso), ",", f.val(at, 1), ",", f.val(at, 1), ",", f.val(at, 1), ",", f.val(at, 1))
			})
		}),
		fileOf("least and most before the data", func(f *file) {
			f.mayAsk = true
			f.line("time;ppfd")
			f.line("Min;20.1")
			f.line("Max;918.4")
			f.each(func(i int, at time.Time) { f.line(at.Format(iso), ";", f.val(at, 1)) })
		}),
		fileOf("a mean and a sum at the end, in words", func(f *file) {
			f.order, f.mayAsk = "dmy", true
			f.line("Datum;Wert")
			f.each(func(i int, at time.Time) { f.line(at.Format("02.01.2006 15:04;"), comma(f.val(at, 1))) })
			f.line("Mittelwert;412,7")
			f.line("Summe;198096,0")
		}),
		fileOf("words for what is missing", func(f *file) {
			f.line("time,ppfd,temp")
			f.each(func(i int, at time.Time) {
				b := []string{"n/a", "-", "", "null"}[i%4]
				if i%3 != 0 {
					b = f.val(at, 1)
				}
				f.line(at.Format(iso), ",", f.val(at, 1), ",", b)
			})
		}),
		fileOf("a quality of 192", func(f *file) {
			f.extra = f.rows
			f.line("time;value;quality")
			f.each(func(i int, at time.Time) { f.line(at.Format(iso), ";", f.val(at, 1), ";192") })
		}),
		fileOf("minutes of the day beside a date", func(f *file) {
			f.order = "dmy"
			f.line("Tag;Minute;PPFD")
			f.each(func(i int, at time.Time) {
				f.line(at.Format("02.01.2006;"), strconv.Itoa(at.Hour()*60+at.Minute()), ";", comma(f.val(at, 1)))
			})
		}),
		fileOf("summer time flagged", func(f *file) {
			f.mayAsk, f.extra = true, 0
			f.line("local,dst,ppfd")
			f.each(func(i int, at time.Time) {
				d := "0"
				if at.IsDST() {
					d = "1"
				}
				f.line(at.Format(iso), ",", d, ",", f.val(at, 1))
			})
		}),
		fileOf("commas for a second's parts", func(f *file) {
			f.line("time;ppfd")
			f.each(func(i int, at time.Time) {
				f.line(at.Format("2006-01-02T15:04:05")+",000"+at.Format("Z07:00;"), comma(f.val(at, 1)))
			})
		}),
		fileOf("thousands with commas, in quotes", func(f *file) {
			f.line("time,lux")
			f.each(func(i int, at time.Time) {
				v := fmt.Sprintf("%.1f", 800+float64(i)*7.5)
				f.note(at, v)
				if len(v) > 5 {
					v = v[:len(v)-5] + "," + v[len(v)-5:]
				}
				f.line(at.Format(iso), `,"`, v, `"`)
			})
		}),
		fileOf("another way to write dates from the middle on", func(f *file) {
			f.order, f.mayAsk = "dmy", true
			f.line("time;ppfd")
			f.each(func(i int, at time.Time) {
				s := at.Format("02/01/2006 15:04")
				if i > f.rows/2 {
					s = at.Format("2006-01-02 15:04")
				}
				f.line(s, ";", f.val(at, 1))
			})
		}),
		{name: "no day above twelve, order unsaid", make: func(c content) invented {
			c.start, c.step, c.rows = time.Date(2026, 2, 3, 0, 0, 0, 0, c.loc), time.Hour, 200
			f := c.file()
			f.mayAsk = true // hours in a row tell it
			f.line("date,ppfd")
			f.each(func(i int, at time.Time) { f.line(at.Format("02/01/2006 15:04,"), f.val(at, 1)) })
			return f.done()
		}},
		{name: "carriage returns alone", make: func(c content) invented {
			f := c.file()
			f.eol = "\r"
			f.line("time,ppfd")
			f.each(func(i int, at time.Time) { f.line(at.Format(iso), ",", f.val(at, 1)) })
			return f.done()
		}},
		fileOf("Uhr behind the clock", func(f *file) {
			f.order = "dmy"
			f.line("Zeitpunkt;Wert")
			f.each(func(i int, at time.Time) { f.line(at.Format("02.01.2006, 15:04 Uhr;"), comma(f.val(at, 1))) })
		}),
		fileOf("a running time beside the moment", func(f *file) {
			f.extra = f.rows
			f.line("Timestamp,Time (s),PPFD")
			f.each(func(i int, at time.Time) {
				f.line(at.Format(iso), ",", strconv.Itoa(int(at.Sub(f.at(0)).Seconds())), ",", f.val(at, 1))
			})
		}),
		fileOf("years of an emperor", func(f *file) {
			f.refuse = true
			f.line("日時,光量")
			f.each(func(i int, at time.Time) {
				f.line(fmt.Sprintf("令和%d年%s", at.Year()-2018, at.Format("1月2日 15:04,")), f.val(at, 1))
			})
		}),
		fileOf("comments with the file's own sign", func(f *file) {
			f.order = "dmy"
			f.line(";Export vom 10.01.2026")
			f.line(";Geraet 4")
			f.line("Datum;Uhrzeit;Wert")
			f.each(func(i int, at time.Time) { f.line(at.Format("02.01.06;15:04:05;"), comma(f.val(at, 2))) })
		}),
		fileOf("names with the file's sign in quotes", func(f *file) {
			f.line(`"time","PPFD, top, umol/m2/s","U, V"`)
			f.each(func(i int, at time.Time) { f.line(`"`, at.Format(iso), `","`, f.val(at, 1), `","`, f.val(at, 1), `"`) })
		}),
		fileOf("long, a series by two columns", func(f *file) {
			f.line("time;room;sensor;ppfd")
			f.each(func(i int, at time.Time) {
				for _, s := range []string{"A;1", "A;2", "B;1", "B;2"} {
					f.line(at.Format(iso), ";", s, ";", f.val(at, 1))
				}
			})
		}),
		fileOf("long, the quantity's number in a column", func(f *file) {
			f.line("time;channel;value")
			f.each(func(i int, at time.Time) {
				for c := 1; c <= 3; c++ {
					f.line(at.Format(iso), ";", strconv.Itoa(c), ";", f.val(at, 1))
				}
			})
		}),
	}
}

func TestUnseenLayouts2(t *testing.T) { judgeLayouts(t, byContent("unseen"), unseenLayouts2()) }
