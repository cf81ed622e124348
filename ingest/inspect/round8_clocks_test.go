package inspect

import (
	"fmt"
	"strings"
	"time"
)

// round8Clocks are layouts whose moments are written in unusual ways.
func round8Clocks() []strange {
	return []strange{
		asked(strange{"a line of its own for the date", func(s *sheet) {
			s.ln("Time;PPFD;Temp")
			for i := range s.n {
				if i == 0 || s.at(i).Day() != s.at(i-1).Day() {
					s.ln("Date: ", s.at(i).Format("2006-01-02"))
				}
				s.ln(s.at(i).Format("15:04;"), s.row(";", i, "ppfd", "temp"))
			}
		}}),
		asked(strange{"hours, minutes and seconds since a start in the title", func(s *sheet) {
			s.ln("Start time,", s.at(0).UTC().Format("2006-01-02T15:04:05Z"))
			s.ln("Elapsed (h:mm:ss),PPFD,Temp")
			for i := range s.n {
				d := time.Duration(i) * s.step
				s.ln(fmt.Sprintf("%d:%02d:%02d,", int(d.Hours()), int(d.Minutes())%60, int(d.Seconds())%60),
					s.row(",", i, "ppfd", "temp"))
			}
		}}),
		refusing(lineByLine("minutes since a start that nobody names", "Elapsed min,PPFD,Temp", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%d,", i*int(s.step.Minutes())) + s.row(",", i, "ppfd", "temp")
		})),
		asked(strange{"the day of the year, the year in the title", func(s *sheet) {
			s.start = s.start.AddDate(0, 0, -30)
			s.ln("Station 4, year 2025")
			s.ln("DOY;HHMM;PPFD")
			if s.start.Year() == 2026 {
				s.start = s.start.AddDate(-1, 0, 0)
			}
			for i := range s.n {
				s.f("%d;%04d;%s", s.at(i).YearDay(), s.at(i).Hour()*100+s.at(i).Minute(), s.v("ppfd", i))
			}
		}}),
		asked(lineByLine("a number of the table, year, day, hour and minute", "", "", func(s *sheet, i int) string {
			at := s.at(i)
			return fmt.Sprintf("110,%d,%d,%d,", at.Year(), at.YearDay(), at.Hour()*100+at.Minute()) + s.row(",", i, "ppfd", "temp")
		})),
		asked(lineByLine("ISO weeks and their days", "stamp;ppfd", "", func(s *sheet, i int) string {
			y, w := s.at(i).ISOWeek()
			return fmt.Sprintf("%d-W%02d-%dT%s;", y, w, (int(s.at(i).Weekday())+6)%7+1, s.at(i).Format("15:04")) + s.v("ppfd", i)
		})),
		asked(lineByLine("Julian dates", "JD;ppfd", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%.6f;", float64(s.at(i).Unix())/86400+2440587.5) + s.v("ppfd", i)
		})),
		asked(lineByLine("modified Julian dates", "MJD,ppfd,temp", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%.5f,", float64(s.at(i).Unix())/86400+40587) + s.row(",", i, "ppfd", "temp")
		})),
		asked(lineByLine("ticks of 100 ns since year 1", "ticks,ppfd", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%d,", s.at(i).Unix()*1e7+621355968000000000) + s.v("ppfd", i)
		})),
		asked(lineByLine("ticks of 100 ns since 1601", "filetime;ppfd", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%d;", s.at(i).Unix()*1e7+116444736000000000) + s.v("ppfd", i)
		})),
		refusing(lineByLine("weeks and seconds of satellites", "gps_week,tow_s,ppfd", "", func(s *sheet, i int) string {
			g := s.at(i).Unix() - 315964800 + 18
			return fmt.Sprintf("%d,%d,", g/604800, g%604800) + s.v("ppfd", i)
		})),
		asked(lineByLine("seconds in hexadecimal", "t;ppfd", "", func(s *sheet, i int) string {
			return fmt.Sprintf("0x%X;", s.at(i).Unix()) + s.v("ppfd", i)
		})),
		asked(strange{"dates over hours, sensors below", func(s *sheet) {
			s.quietDays()
			a, b := "Sensor;", "Unit;"
			for i := range 72 {
				a += ";" + s.at(i).Format("2006-01-02")
				b += ";" + s.at(i).Format("15:04")
			}
			s.ln(a)
			s.ln(b)
			for _, ch := range []string{"ppfd#1", "ppfd#2", "ppfd#3"} {
				line := ch[5:] + ";umol/m2/s"
				for i := range 72 {
					line += ";" + s.v(ch, i)
				}
				s.ln(line)
			}
		}}),
		asked(strange{"a month's calendar", func(s *sheet) {
			s.quietDays()
			y, m, _ := s.start.Date()
			s.ln("PPFD mean of the hour, ", time.Month(m).String(), " ", fmt.Sprint(y))
			head := "Day"
			for h := range 24 {
				head += fmt.Sprintf(",%d", h)
			}
			s.ln(head)
			for d := range 28 {
				line := fmt.Sprint(d + 1)
				for h := range 24 {
					line += "," + s.vAt("ppfd", 24*d+h, time.Date(y, m, d+1, h, 0, 0, 0, s.loc))
				}
				s.ln(line)
			}
		}}),
		asked(lineByLine("summer time told by 0 and 1", "Local time,DST,ppfd", "", func(s *sheet, i int) string {
			dst := 0
			if s.at(i).IsDST() {
				dst = 1
			}
			return s.at(i).Format("2006-01-02 15:04,") + fmt.Sprintf("%d,", dst) + s.v("ppfd", i)
		})),
		asked(lineByLine("winter time all the year, said in words", "All times in winter time (UTC+1)\nZeit;PPFD", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Add(time.Hour).Format("2006-01-02 15:04;") + s.v("ppfd", i)
		})),
		asked(lineByLine("when it was to be, and when it was", "slot,logged,ppfd", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + "," +
				s.at(i).UTC().Add(time.Duration(i%7)*time.Second).Format(time.RFC3339) + "," + s.v("ppfd", i)
		})),
		asked(lineByLine("settlement periods", "Settlement Date,Settlement Period,kWh", "dmy", func(s *sheet, i int) string {
			s.step, s.ans.Interval = 30*time.Minute, "begin"
			at := s.at(i)
			midnight := time.Date(at.Year(), at.Month(), at.Day(), 0, 0, 0, 0, s.loc)
			return at.Format("02/01/2006,") + fmt.Sprintf("%d,", int(at.Sub(midnight)/s.step)+1) + s.v("use", i)
		})),
		refusing(lineByLine("day and clock, the month in the title", "PAR, week 6\nDay;Clock;PPFD", "", func(s *sheet, i int) string {
			return s.at(i).Format("2;15:04;") + s.v("ppfd", i)
		})),
		refusing(lineByLine("no year", "time;ppfd", "", func(s *sheet, i int) string {
			return s.at(i).Format("01-02 15:04;") + s.v("ppfd", i)
		})),
		{"order unsaid, two digits of the year", func(s *sheet) {
			s.ln("Date;Time;PPFD;Temp")
			for i := range s.n {
				s.ln(s.at(i).Format("02/01/06;15:04;"), s.rowComma(";", i, "ppfd", "temp"))
			}
			s.ask = true
		}},
		asked(lineByLine("UTC and an offset in words", "time,ppfd", "", func(s *sheet, i int) string {
			return s.at(i).Format("2006-01-02 15:04:05 UTC-07:00,") + s.v("ppfd", i)
		})),
		lineByLine("a month in letters, colons all the way", "stamp,ppfd,rh", "", func(s *sheet, i int) string {
			return strings.ToUpper(s.at(i).Format("02Jan2006:15:04:05,")) + s.row(",", i, "ppfd", "rh")
		}),
		lineByLine("dashes and points all the way", "TS,PPFD", "", func(s *sheet, i int) string {
			return s.at(i).Format("2006-01-02-15.04.05.000000,") + s.v("ppfd", i)
		}),
		lineByLine("a weekday that settles the order", "When,PPFD,Temp", "", func(s *sheet, i int) string {
			s.ask = true
			return s.at(i).Format("Mon 02/01/2006 15:04,") + s.row(",", i, "ppfd", "temp")
		}),
		lineByLine("halves of the day behind nine digits", "STAMP;PPFD", "", func(s *sheet, i int) string {
			return strings.ToUpper(s.at(i).Format("02-Jan-06 03.04.05.000000000 PM;")) + s.v("ppfd", i)
		}),
		lineByLine("words in the moment, German", "Zeitpunkt;PAR;Temperatur", "dmy", func(s *sheet, i int) string {
			return s.at(i).Format("02.01.2006 um 15:04 Uhr;") + s.rowComma(";", i, "ppfd", "temp")
		}),
		lineByLine("words in the moment, Japanese", "日時,光量子,温度", "", func(s *sheet, i int) string {
			return s.at(i).Format("2006年01月02日 15時04分05秒,") + s.row(",", i, "ppfd", "temp")
		}),
		refusing(lineByLine("years of a reign", "日付,時刻,光量子", "", func(s *sheet, i int) string {
			return fmt.Sprintf("R%d.%s,", s.at(i).Year()-2018, s.at(i).Format("1.2,15:04")) + s.v("ppfd", i)
		})),
	}
}
