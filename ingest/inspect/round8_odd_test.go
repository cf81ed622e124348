package inspect

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"
)

// round8Odd are layouts whose rows or values are not what they seem.
func round8Odd() []strange {
	raw := func(v string) json.RawMessage { return json.RawMessage(v) }
	return []strange{
		asked(lineByLine("bad quality has zeros", "TagName,DateTime,Value,QualityDetail", "", func(s *sheet, i int) string {
			at := s.at(i).UTC().Format("2006-01-02 15:04:05.000+00:00")
			if i%40 == 11 {
				return "H2_PAR_PV," + at + ",0.0,24"
			}
			return "H2_PAR_PV," + at + "," + s.v("ppfd", i) + ",192"
		})),
		asked(lineByLine("tenths in whole numbers", "Zeit;PAR (x0,1 µmol/m²/s);Temp (x0,1 °C)", "dmy", func(s *sheet, i int) string {
			return s.at(i).Format("02.01.2006 15:04;") + strings.ReplaceAll(s.row(";", i, "ppfd", "temp"), ".", "")
		})),
		asked(strange{"a sum after each day", func(s *sheet) {
			s.ln("Time;Energy (kWh)")
			for i := range s.n {
				s.ln(s.at(i).Format(isoLocal), ";", s.v("use", i))
				if next := s.at(i + 1); next.Day() != s.at(i).Day() || i == s.n-1 {
					s.ln(s.at(i).Format("2006-01-02"), " Total;17.402")
				}
			}
		}}),
		asked(lineByLine("means of the hour among the samples", "time,kind,ppfd", "", func(s *sheet, i int) string {
			line := s.at(i).UTC().Format(time.RFC3339) + ",sample," + s.v("ppfd#sample", i)
			if s.at(i).Minute() == 0 {
				line += "\n" + s.at(i).UTC().Format(time.RFC3339) + ",mean60," + s.v("ppfd#mean", i)
			}
			return line
		})),
		{"a column more from the middle on", func(s *sheet) {
			s.ask = true
			s.ln("time,ppfd")
			for i := range s.n {
				if i == s.n/2 {
					s.ln("time,temp,ppfd")
				}
				if i < s.n/2 {
					s.ln(s.at(i).UTC().Format(time.RFC3339), ",", s.v("ppfd", i))
				} else {
					s.ln(s.at(i).UTC().Format(time.RFC3339), ",", s.row(",", i, "temp", "ppfd"))
				}
			}
		}},
		asked(strange{"the unit changes in the middle", func(s *sheet) {
			s.ln("time;light (lx)")
			for i := range s.n {
				v := s.v("lux", i)
				if i == s.n/2 {
					s.ln("time;light (klx)")
				}
				if i >= s.n/2 {
					v = fmt.Sprintf("%.3f", asNumber(v)/1000)
				}
				s.ln(s.at(i).UTC().Format(time.RFC3339), ";", v)
			}
		}}),
		asked(strange{"a log of a program", func(s *sheet) {
			s.file = "service.log"
			for i := range s.n {
				s.f("%s INFO  [poller] bay4: ppfd=%s temp=%s (ok)", s.at(i).Format("2006-01-02 15:04:05.000"), s.v("ppfd", i),
					s.v("temp", i))
			}
		}}),
		refusing(strange{"ages of the readings of an uplink", func(s *sheet) {
			s.file = "batch.jsonl"
			for i := 0; i+3 < s.n; i += 3 {
				s.f(`{"received_at":"%s","device":"n4","readings":[{"age_min":20,"ppfd":%s},{"age_min":10,"ppfd":%s},{"age_min":0,"ppfd":%s}]}`,
					s.at(i+2).UTC().Format(time.RFC3339), s.v("ppfd", i), s.v("ppfd", i+1), s.v("ppfd", i+2))
			}
		}}),
		asked(strange{"half hours at their ends across", func(s *sheet) {
			s.quietDays()
			s.ans.Interval, s.ans.Order = "begin", "dmy"
			head := "Meter,Date"
			for q := range 48 {
				head += fmt.Sprintf(",%02d:%02d", (q+1)%48/2, (q+1)%2*30)
			}
			s.ln(head)
			for d := range 12 {
				y, m, dd := s.start.AddDate(0, 0, d).Date()
				line := "M0417," + time.Date(y, m, dd, 0, 0, 0, 0, s.loc).Format("02/01/2006")
				for q := range 48 {
					line += "," + s.vAt("use", 48*d+q, time.Date(y, m, dd, q/2, q%2*30, 0, 0, s.loc))
				}
				s.ln(line)
			}
		}}),
		asked(strange{"records by their first number", func(s *sheet) {
			s.quietDays()
			s.ans.Interval = "begin"
			s.ln("100,METER12,202602011200,MDA1,RET1")
			s.ln("200,NX000000417,E1,1,E1,N1,417,kWh,30,")
			for d := range 12 {
				y, m, dd := s.start.AddDate(0, 0, d).Date()
				line := "300," + time.Date(y, m, dd, 0, 0, 0, 0, s.loc).Format("20060102")
				for q := range 48 {
					line += "," + s.vAt("use", 48*d+q, time.Date(y, m, dd, q/2, q%2*30, 0, 0, s.loc))
				}
				s.ln(line, ",A,,,20260301120000,")
			}
			s.ln("900")
		}}),
		asked(strange{"a meter's bills", func(s *sheet) {
			s.ans.Interval, s.ans.Order = "begin", "mdy"
			s.ln("Start Date,End Date,Days,Usage (kWh)")
			y, m, d := s.start.In(s.loc).Date()
			for i := range 30 {
				from := time.Date(y-3, m+time.Month(i), d%20+1, 0, 0, 0, 0, s.loc)
				to := time.Date(y-3, m+time.Month(i+1), d%20+1, 0, 0, 0, 0, s.loc)
				s.f("%s,%s,%d,%s", from.Format("01/02/2006"), to.Format("01/02/2006"), int(to.Sub(from).Hours()+1)/24,
					s.vAt("kwh", 700*i, from))
			}
		}}),
		{"extremes of the day with their moments", func(s *sheet) {
			s.ask = true
			s.ln("Date;Mean PPFD;Max PPFD;Max at;Min temp;Min at")
			y, m, d := s.start.In(s.loc).Date()
			for i := range 60 {
				at := time.Date(y, m, d+i, 0, 0, 0, 0, s.loc)
				s.f("%s;%s;%s;%02d:%02d;%s;%02d:%02d", at.Format("2006-01-02"), s.vAt("hours#mean", i, at),
					s.vAt("hours#max", i, at), 9+i%7, i*7%60, s.vAt("temp", i, at), 3+i%4, i*11%60)
			}
		}},
		asked(strange{"a date in merged cells, clocks beside", func(s *sheet) {
			s.file = "merged.xlsx"
			x := excelize.NewFile()
			x.SetSheetRow("Sheet1", "A1", &[]any{"Date", "Time", "PPFD"})
			from := 2
			for i := range s.n {
				r := i + 2
				date := any(nil)
				if i == 0 || s.at(i).Day() != s.at(i-1).Day() {
					date = s.at(i).Format("2006-01-02")
				}
				x.SetSheetRow("Sheet1", fmt.Sprintf("A%d", r), &[]any{date, s.at(i).Format("15:04"), asNumber(s.v("ppfd", i))})
				if i == s.n-1 || s.at(i).Day() != s.at(i+1).Day() {
					x.MergeCell("Sheet1", fmt.Sprintf("A%d", from), fmt.Sprintf("A%d", r))
					from = r + 1
				}
			}
			var b bytes.Buffer
			x.Write(&b)
			s.data = b.Bytes()
		}}),
		asked(lineByLine("lakhs in a counter", "Time,Counter (Wh),Volt", "", func(s *sheet, i int) string {
			v := fmt.Sprint(1234567 + 25*i)
			s.note("wh", i, v)
			return s.at(i).UTC().Format(time.RFC3339) + fmt.Sprintf(`,"%s,%s,%s",`, v[:2], v[2:4], v[4:]) + s.v("volt", i)
		})),
		asked(strange{"a logger whose clock was at its start", func(s *sheet) {
			s.ln("time,ppfd,temp")
			for i := range s.n {
				if i >= s.n/2 && i < s.n/2+20 {
					at := time.Date(2000, 1, 1, 0, 0, 0, 0, s.loc).Add(time.Duration(i-s.n/2) * s.step)
					s.ln(at.Format(isoLocal), ",", s.text("ppfd", i, at), ",", s.text("temp", i, at))
					continue
				}
				s.ln(s.at(i).Format(isoLocal), ",", s.row(",", i, "ppfd", "temp"))
			}
		}}),
		asked(strange{"a line a value, a blank line a record", func(s *sheet) {
			s.file = "records.txt"
			for i := range s.n {
				s.f("Time: %s\nPPFD: %s\nTemp: %s\n", s.at(i).Format(isoLocal), s.v("ppfd", i), s.v("temp", i))
			}
		}}),
		refusing(strange{"digits without a mark between", func(s *sheet) {
			s.file = "packed.txt"
			for i := range s.n {
				s.ln(s.at(i).Format("200601021504"), fmt.Sprintf("%05.0f%04.0f", 10*asNumber(s.v("ppfd", i)),
					10*asNumber(s.v("temp", i))))
			}
		}}),
		refusing(lineByLine("two values in a cell", "time,ppfd/temp", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + "," + s.row("/", i, "ppfd", "temp")
		})),
		asked(lineByLine("a k behind thousands", "time;light (lx)", "", func(s *sheet, i int) string {
			v := s.v("lux", i)
			if x := asNumber(v); x >= 1000 {
				v = fmt.Sprintf("%.3fk", x/1000)
			}
			return s.at(i).UTC().Format(time.RFC3339) + ";" + v
		})),
		asked(strange{"limits of an instrument before numbers", func(s *sheet) {
			s.ln("time;ppfd;temp")
			for i := range s.n {
				p := s.text("ppfd", i, s.at(i))
				if i%30 == 7 {
					p = ">2000"
				} else {
					s.v("ppfd", i)
				}
				s.ln(s.at(i).UTC().Format(time.RFC3339), ";", p, ";", s.v("temp", i))
			}
		}}),
		asked(lineByLine("the time once for some sensors", "time,sensor,ppfd", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + ",b1," + s.v("ppfd#1", i) + "\n,b2," + s.v("ppfd#2", i) + "\n,b3," +
				s.v("ppfd#3", i)
		})),
		refusing(lineByLine("seconds cut off", "time;sensor;value", "", func(s *sheet, i int) string {
			at := s.at(0).UTC().Add(time.Duration(i) * 20 * time.Second)
			return at.Format("2006-01-02 15:04+00:00;") + "par4;" + s.v("temp", i)
		})),
		refusing(strange{"a start, an interval and values", func(s *sheet) {
			s.file = "profile.json"
			var values []any
			for i := range s.n {
				values = append(values, raw(s.v("ppfd", i)))
			}
			s.data, _ = json.Marshal(map[string]any{"start": s.at(0).UTC().Format(time.RFC3339), "interval_s": s.step.Seconds(),
				"unit": "umol/m2/s", "values": values})
		}}),
		asked(strange{"times in lists of numbers", func(s *sheet) {
			s.file = "parts.json"
			var all []any
			for i := range s.n {
				at := s.at(i)
				all = append(all, map[string]any{"when": []int{at.Year(), int(at.Month()), at.Day(), at.Hour(), at.Minute()},
					"ppfd": raw(s.v("ppfd", i))})
			}
			s.data, _ = json.Marshal(all)
		}}),
		asked(lineByLine("the sign in a column of its own", "time;sign;out;ppfd", "", func(s *sheet, i int) string {
			v := s.v("out", i)
			sign := "+"
			if strings.HasPrefix(v, "-") {
				sign, v = "-", v[1:]
			}
			return s.at(i).UTC().Format(time.RFC3339) + ";" + sign + ";" + v + ";" + s.v("ppfd", i)
		})),
		asked(lineByLine("decimal commas between commas, no header", "", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + "," + s.rowComma(",", i, "ppfd", "temp")
		})),
		asked(strange{"blocks of different columns, one below the other", func(s *sheet) {
			s.ln("[Device 00417]\ntime;ppfd;temp")
			for i := range s.n / 2 {
				s.ln(s.at(i).UTC().Format(time.RFC3339), ";", s.row(";", i, "ppfd#1", "temp#1"))
			}
			s.ln("\n[Device 00418]\ntime;volt;amp")
			for i := range s.n / 2 {
				s.ln(s.at(i).UTC().Format(time.RFC3339), ";", s.row(";", i, "volt#2", "amp#2"))
			}
		}}),
	}
}
