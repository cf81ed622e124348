package inspect

import (
	"fmt"
	"math"
	"strconv"
	"testing"
	"time"
	"unicode/utf16"
)

// unseenLayouts were written by another hand than the reader's, without its code.
func unseenLayouts() []layout {
	iso := "2006-01-02 15:04:05"
	return []layout{
		fileOf("units in a line of their own", func(f *file) {
			f.line("Timestamp,Light,Voltage")
			f.line(",umol/m2/s,V")
			f.each(func(i int, at time.Time) { f.line(at.Format(iso), ",", f.val(at, 1), ",", f.val(at, 2)) })
		}),
		fileOf("Spanish halves of the day", func(f *file) {
			f.order = "dmy"
			f.line("Fecha;Hora;Valor")
			f.each(func(i int, at time.Time) {
				half := " a. m."
				if at.Hour() >= 12 {
					half = " p. m."
				}
				f.line(at.Format("02/01/2006;03:04:05"), half, ";", comma(f.val(at, 1)))
			})
		}),
		fileOf("start and end of each interval in columns", func(f *file) {
			f.mayAsk, f.interval = true, "start"
			f.line("from,to,value")
			f.each(func(i int, at time.Time) {
				f.line(at.Format(time.RFC3339), ",", at.Add(f.step).Format(time.RFC3339), ",", f.val(at, 1))
			})
		}),
		fileOf("everything in quotes", func(f *file) {
			f.order = "dmy"
			f.line(`"Data/Hora";"Radiação PAR (µmol/m²/s)";"Obs"`)
			f.each(func(i int, at time.Time) {
				f.line(`"`, at.Format("02/01/2006 15:04"), `";"`, comma(f.val(at, 1)), `";""`)
			})
		}),
		fileOf("Chinese dates", func(f *file) {
			f.line("\ufeff时间,光照强度")
			f.each(func(i int, at time.Time) { f.line(at.Format("2006年1月2日 15:04:05,"), f.val(at, 1)) })
		}),
		{name: "UTF-16 with tabs", make: func(c content) invented {
			f := c.file()
			f.eol = "\r\n"
			f.line("Time\tPPFD\tTemp °C")
			f.each(func(i int, at time.Time) { f.line(at.Format(iso), "\t", f.val(at, 1), "\t", f.val(at, 1)) })
			w := f.done()
			b := []byte{0xff, 0xfe}
			for _, u := range utf16.Encode([]rune(w.text)) {
				b = append(b, byte(u), byte(u>>8))
			}
			w.text = string(b)
			return w
		}},
		fileOf("Latin-1 degrees", func(f *file) {
			f.order = "dmy"
			f.line("Zeitpunkt;PPFD;Temp \xb0C;Zustand l\xe4uft")
			f.each(func(i int, at time.Time) {
				f.line(at.Format("02.01.2006 15:04"), ";", comma(f.val(at, 1)), ";", comma(f.val(at, 1)), ";ja")
			})
		}),
		fileOf("offset from UTC in a column", func(f *file) {
			f.mayAsk = true
			f.line("local time,utc offset (h),ppfd")
			f.each(func(i int, at time.Time) {
				_, off := at.Zone()
				f.line(at.Format(iso), ",", strconv.Itoa(off/3600), ",", f.val(at, 1))
			})
		}),
		fileOf("seconds of the epoch with decimals", func(f *file) {
			f.line("ts,ppfd")
			f.each(func(i int, at time.Time) { f.line(fmt.Sprintf("%d.000,", at.Unix()), f.val(at, 1)) })
		}),
		fileOf("JSON with Date(ms)", func(f *file) {
			f.line("[")
			f.each(func(i int, at time.Time) {
				end := ","
				if i == f.rows-1 {
					end = ""
				}
				f.line(fmt.Sprintf(`{"d":"/Date(%d)/","v":%s}%s`, at.UnixMilli(), f.val(at, 1), end))
			})
			f.line("]")
		}),
		fileOf("ticks of 100 ns since year 1", func(f *file) {
			f.line("Ticks;Value")
			f.each(func(i int, at time.Time) {
				f.line(strconv.FormatInt(621355968000000000+at.UnixMicro()*10, 10), ";", f.val(at, 1))
			})
		}),
		fileOf("Julian days", func(f *file) {
			f.line("JD,PAR")
			f.each(func(i int, at time.Time) {
				f.line(strconv.FormatFloat(2440587.5+float64(at.Unix())/86400, 'f', 6, 64), ",", f.val(at, 1))
			})
		}),
		fileOf("seconds since a start in the header", func(f *file) {
			f.line("# start: " + f.at(0).Format(iso))
			f.line("elapsed_s,ppfd")
			f.each(func(i int, at time.Time) {
				f.line(strconv.Itoa(int(at.Sub(f.at(0)).Seconds())), ",", f.val(at, 1))
			})
		}),
		fileOf("elapsed hours without a start", func(f *file) {
			f.refuse = true
			f.line("elapsed,ppfd")
			f.each(func(i int, at time.Time) {
				d := at.Sub(f.at(0))
				f.line(fmt.Sprintf("%d:%02d:00,", int(d.Hours()), int(d.Minutes())%60), f.val(at, 1))
			})
		}),
		fileOf("moments across, sensors down", func(f *file) {
			head, lines := "sensor", []string{"A1", "A2", "B1"}
			n := min(f.rows, 96)
			for i := range n {
				head += "," + f.at(i).Format("2006-01-02 15:04")
			}
			f.line(head)
			for _, l := range lines {
				for i := range n {
					l += "," + f.val(f.at(i), 1)
				}
				f.line(l)
			}
		}),
		fileOf("two tables one after the other", func(f *file) {
			for _, s := range []string{"Sensor A", "Sensor B"} {
				f.line(s)
				f.line("time,ppfd")
				f.each(func(i int, at time.Time) { f.line(at.Format(iso), ",", f.val(at, 1)) })
				f.line("")
			}
		}),
		fileOf("two columns of one name", func(f *file) {
			f.line("time,PPFD,PPFD")
			f.each(func(i int, at time.Time) { f.line(at.Format(iso), ",", f.val(at, 1), ",", f.val(at, 1)) })
		}),
		fileOf("apostrophes between thousands", func(f *file) {
			f.order = "dmy"
			f.line("Datum;Wert")
			f.each(func(i int, at time.Time) {
				v := fmt.Sprintf("%.1f", 700+float64(i)*3.5)
				f.note(at, v)
				if len(v) > 5 {
					v = v[:len(v)-5] + "'" + v[len(v)-5:]
				}
				f.line(at.Format("02.01.2006 15:04;"), v)
			})
		}),
		fileOf("a minus behind the number", func(f *file) {
			f.line("time;ppfd;temp")
			f.each(func(i int, at time.Time) {
				t := 6 * math.Sin(float64(i)/9)
				v := fmt.Sprintf("%.1f", math.Abs(t))
				if t < 0 && v != "0.0" {
					f.note(at, "-"+v)
					v += "-"
				} else {
					f.note(at, v)
				}
				f.line(at.Format(iso), ";", f.val(at, 1), ";", v)
			})
		}),
		fileOf("-9999 where a reading is missing", func(f *file) {
			f.line("TIMESTAMP,PAR_Avg,AirTC_Avg")
			f.each(func(i int, at time.Time) {
				a, b := f.val(at, 2), "-9999"
				if i%7 != 3 {
					b = f.val(at, 1)
				}
				f.line(at.Format(iso), ",", a, ",", b)
			})
		}),
		fileOf("month first, short, twelve hours", func(f *file) {
			f.order = "mdy"
			f.line("Date and time,Reading")
			f.each(func(i int, at time.Time) { f.line(at.Format("1/2/06 3:04 PM,"), f.val(at, 1)) })
		}),
		fileOf("ordinal dates", func(f *file) {
			f.line("when;ppfd")
			f.each(func(i int, at time.Time) { f.line(at.Format("2006-002 15:04;"), f.val(at, 1)) })
		}),
		fileOf("weeks and weekdays", func(f *file) {
			f.line("when;ppfd")
			f.each(func(i int, at time.Time) {
				y, w := at.ISOWeek()
				d := (int(at.Weekday())+6)%7 + 1
				f.line(fmt.Sprintf("%d-W%02d-%dT%s;", y, w, d, at.Format("15:04")), f.val(at, 1))
			})
		}),
		fileOf("the date only where it changes", func(f *file) {
			f.order = "dmy"
			f.line("Datum;Uhrzeit;PPFD")
			f.each(func(i int, at time.Time) {
				d := at.Format("02.01.2006")
				if i > 0 && f.at(i-1).Day() == at.Day() {
					d = ""
				}
				f.line(d, at.Format(";15:04;"), comma(f.val(at, 1)))
			})
		}),
		fileOf("hours 1 to 24", func(f *file) {
			f.mayAsk, f.interval = true, "end"
			f.line("date,hour,value")
			start := time.Date(2026, 1, 9, 0, 0, 0, 0, f.loc)
			for i := range 24 * 30 {
				end := start.Add(time.Duration(i+1) * time.Hour)
				f.line(start.Add(time.Duration(i)*time.Hour).Format("2006-01-02,"), strconv.Itoa(i%24+1), ",", f.val(end, 1))
			}
		}),
		fileOf("24:00 for midnight", func(f *file) {
			f.order = "dmy"
			f.line("Datum;Zeit;Wert")
			f.each(func(i int, at time.Time) {
				day, clock := at.Format("02.01.2006"), at.Format("15:04")
				if clock == "00:00" {
					day, clock = at.Add(-time.Minute).Format("02.01.2006"), "24:00"
				}
				f.line(day, ";", clock, ";", comma(f.val(at, 1)))
			})
		}),
		fileOf("UTC and local time side by side", func(f *file) {
			f.line("local_time,utc_time,ppfd")
			f.each(func(i int, at time.Time) {
				f.line(at.Format(iso), ",", at.UTC().Format(iso), ",", f.val(at, 1))
			})
		}),
		fileOf("JSON lines of tags and fields, nanoseconds", func(f *file) {
			f.each(func(i int, at time.Time) {
				f.line(fmt.Sprintf(`{"name":"grow","tags":{"node":"n%d"},"fields":{"ppfd":%s},"timestamp":%d}`, i%2, f.val(at, 1),
					at.UnixNano()))
			})
		}),
		fileOf("a footer", func(f *file) {
			f.line("time;ppfd")
			f.each(func(i int, at time.Time) { f.line(at.Format(iso), ";", f.val(at, 1)) })
			f.line("")
			f.line(fmt.Sprintf("Records: %d", f.rows))
			f.line("End of export")
		}),
		fileOf("a header cell of two lines", func(f *file) {
			f.line("time,\"PPFD\n(umol/m2/s)\",\"U\n(V)\"")
			f.each(func(i int, at time.Time) { f.line(at.Format(iso), ",", f.val(at, 1), ",", f.val(at, 1)) })
		}),
		fileOf("a word behind each value", func(f *file) {
			f.line("time,value")
			f.each(func(i int, at time.Time) { f.line(at.Format(iso), ",", f.val(at, 1), " OK") })
		}),
		fileOf("newest first", func(f *file) {
			f.order = "dmy"
			f.line("Tijdstip;Waarde")
			for i := f.rows - 1; i >= 0; i-- {
				at := f.at(i)
				f.line(at.Format("02-01-2006 15:04:05;"), comma(f.val(at, 1)))
			}
		}),
		fileOf("powers of ten with a comma", func(f *file) {
			f.order = "dmy"
			f.line("Zeit;E")
			f.each(func(i int, at time.Time) {
				v := strconv.FormatFloat(f.rnd.Float64()*900+20, 'E', 3, 64)
				f.note(at, v)
				f.line(at.Format("02.01.2006 15:04;"), comma(v))
			})
		}),
		fileOf("XML", func(f *file) {
			f.refuse = true
			f.line("<log>")
			f.each(func(i int, at time.Time) {
				f.line(`<r t="`, at.Format(time.RFC3339), `" v="`, f.val(at, 1), `"/>`)
			})
			f.line("</log>")
		}),
		fileOf("weekday before the date", func(f *file) {
			f.order = "dmy"
			f.line("Datum;PPFD")
			f.each(func(i int, at time.Time) {
				f.line([]string{"So", "Mo", "Di", "Mi", "Do", "Fr", "Sa"}[at.Weekday()], at.Format(" 02.01.2006 15:04;"),
					comma(f.val(at, 1)))
			})
		}),
		fileOf("a row number without a name", func(f *file) {
			f.extra = 1 << 20
			f.line("time,ppfd")
			f.each(func(i int, at time.Time) { f.line(strconv.Itoa(i+1), at.Format(","+iso+","), f.val(at, 1)) })
		}),
		fileOf("two-digit years last", func(f *file) {
			f.order = "dmy"
			f.line("datetime,ppfd")
			f.each(func(i int, at time.Time) { f.line(at.Format("02-01-06 15:04,"), f.val(at, 1)) })
		}),
		fileOf("nothing but zeros for long", func(f *file) {
			f.line("time,ppfd,relay")
			f.each(func(i int, at time.Time) {
				v := "0"
				if i < f.rows/2 {
					f.note(at, v)
				} else {
					v = f.val(at, 1)
				}
				f.extra++
				f.line(at.Format(iso), ",", v, ",0")
			})
		}),
		fileOf("the header again each day", func(f *file) {
			f.each(func(i int, at time.Time) {
				if i == 0 || f.at(i-1).Day() != at.Day() {
					f.line("time,ppfd,temp")
				}
				f.line(at.Format(iso), ",", f.val(at, 1), ",", f.val(at, 1))
			})
		}),
		fileOf("seconds of the day beside a date", func(f *file) {
			f.line("date,sec,ppfd")
			f.each(func(i int, at time.Time) {
				f.line(at.Format("2006-01-02,"), strconv.Itoa(at.Hour()*3600+at.Minute()*60+at.Second()), ",", f.val(at, 1))
			})
		}),
		fileOf("semicolons within brackets of a list", func(f *file) {
			f.line("{\"sensor\":\"S1\",\"points\":[")
			f.each(func(i int, at time.Time) {
				end := ","
				if i == f.rows-1 {
					end = "]}"
				}
				f.line(fmt.Sprintf(`[%d,%s]%s`, at.UnixMilli(), f.val(at, 1), end))
			})
		}),
	}
}

func TestUnseenLayouts(t *testing.T) { judgeLayouts(t, byContent("unseen"), unseenLayouts()) }
