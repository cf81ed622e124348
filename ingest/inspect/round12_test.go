package inspect

import (
	"encoding/binary"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"
	"unicode/utf16"
)

func round12Contents() []sheet {
	return []sheet{
		{loc: place("Europe/Madrid"), start: time.Date(2026, 10, 24, 18, 0, 0, 0, place("Europe/Madrid")),
			step: 10 * time.Minute, n: 380}, // clocks go back
		{loc: place("America/Chicago"), start: time.Date(2026, 7, 3, 0, 0, 0, 0, place("America/Chicago")),
			step: 15 * time.Minute, n: 480},
		{loc: place("Australia/Adelaide"), start: time.Date(2026, 1, 8, 9, 30, 0, 0, place("Australia/Adelaide")),
			step: time.Hour, n: 210},
	}
}

func round12() []strange {
	utc := func(s *sheet, i int) time.Time { return s.at(i).UTC() }
	iso := "2006-01-02T15:04:05Z07:00"
	return []strange{
		{"a station's preamble and a table of two heads", func(s *sheet) {
			s.ln("Station;Hall North")
			s.ln("Firmware;4.2.1")
			s.ln("Export;", s.at(s.n-1).Format("2006-01-02"))
			s.ln("")
			s.ln(";Head A;;Head B;")
			s.ln("Time (UTC);PPFD;Temp;PPFD;Temp")
			s.ln(";umol/m2/s;degC;umol/m2/s;degC")
			for i := range s.n {
				s.f("%s;%s;%s;%s;%s", utc(s, i).Format("2006-01-02 15:04"), s.v("ppfd#a", i), s.v("temp#a", i), s.v("ppfd#b", i), s.v("temp#b", i))
			}
		}},
		lineByLine("points of a plant historian with quality", "Point;TimeStamp;Value;Quality", "", func(s *sheet, i int) string {
			at := utc(s, i).Format("2006-01-02T15:04:05.000Z")
			return "GH1.L3.PAR;" + at + ";" + s.v("ppfd#1", i) + ";192\nGH1.L3.U;" + at + ";" + s.v("volt#1", i) + ";192"
		}),
		{"an uplink a line", func(s *sheet) {
			s.file = "uplinks.jsonl"
			s.truth["rssi?"] = map[int64]float64{}
			for i := range s.n {
				s.truth["rssi?"][utc(s, i).Add(370*time.Millisecond).UnixMicro()] = float64(-88 - i%7)
				x := map[string]any{
					"received_at": utc(s, i).Add(370 * time.Millisecond).Format("2006-01-02T15:04:05.000Z"),
					"device":      map[string]any{"id": "par-07", "eui": "70B3D57ED0041234"},
					"uplink": map[string]any{"f_port": 2, "f_cnt": 1200 + i, "rssi": -88 - i%7,
						"decoded": map[string]any{"ppfd": json.RawMessage(s.vAt("ppfd", i, utc(s, i).Add(370*time.Millisecond)))}},
				}
				b, _ := json.Marshal(x)
				s.ln(string(b))
			}
		}},
		{"the head again each page", func(s *sheet) {
			for i := range s.n {
				if i%50 == 0 {
					s.ln("Date,Time,PAR (umol/m2/s),RH (%)")
				}
				s.f("%s,%s,%s", utc(s, i).Format("2006-01-02,15:04:05"), s.v("ppfd", i), s.v("rh", i))
			}
			s.ans.Zone = "UTC"
			s.loc = time.UTC
		}},
		{"remarks among the rows", func(s *sheet) {
			s.ln("# logger 12, bay 4")
			s.ln("stamp,ppfd,supply_v")
			for i := range s.n {
				if i%97 == 40 {
					s.ln("# battery changed")
				}
				s.f("%s,%s,%s", utc(s, i).Format(iso), s.v("ppfd", i), s.v("volt", i))
			}
		}},
		{"a rule under the head", func(s *sheet) {
			s.file = "report.txt"
			s.ln("Timestamp             PPFD      Temp")
			s.ln("--------------------  --------  ------")
			for i := range s.n {
				s.f("%-20s  %8s  %6s", utc(s, i).Format("2006-01-02T15:04:05Z"), s.v("ppfd", i), s.v("temp", i))
			}
		}},
		{"the separator named first, thousands in quotes", func(s *sheet) {
			s.ln("sep=,")
			s.ln("Time,\"Power, W\",Voltage")
			for i := range s.n {
				w := s.v("watt", i)
				if len(w) > 3 {
					w = w[:len(w)-3] + "," + w[len(w)-3:]
				}
				s.f("%s,\"%s\",%s", utc(s, i).Format(iso), w, s.v("volt", i))
			}
		}},
		{"columns and data apart", func(s *sheet) {
			s.file = "frame.json"
			var rows []any
			for i := range s.n {
				rows = append(rows, []any{utc(s, i).UnixMilli(), json.RawMessage(s.v("ppfd", i)), json.RawMessage(s.v("rh", i)), nil})
			}
			s.data, _ = json.Marshal(map[string]any{"columns": []string{"time", "par", "humidity", "spare"}, "data": rows, "index": "none"})
		}},
		lineByLine("year and day of the year in one number", "yyyyddd hhmm PAR", "", func(s *sheet, i int) string {
			s.ask = true
			at := s.at(i)
			return fmt.Sprintf("%d%03d %s %s", at.Year(), at.YearDay(), at.Format("1504"), s.v("ppfd", i))
		}),
		lineByLine("twelve hours and seconds", "When,Canopy light,Air °C", "mdy", func(s *sheet, i int) string {
			s.ask = true // the hour that comes twice
			return s.at(i).Format("1/2/2006 3:04:05 PM,") + s.v("ppfd", i) + "," + s.v("temp", i)
		}),
		lineByLine("a comma before the thousandths", "tid;lux;volt", "", func(s *sheet, i int) string {
			return s.at(i).Format("2006-01-02T15:04:05,000Z07:00;") + s.v("lux", i) + ";" + decComma(s.v("volt", i))
		}),
		lineByLine("seconds since 1970 with a fraction", "ts,node,par,vbat", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%d.0,n3,%s,%s", s.at(i).Unix(), s.v("ppfd", i), s.note("vbat?", i, fmt.Sprintf("3.%d", 9-i/90)))
		}),
		{"a column more from the middle on", func(s *sheet) {
			s.ask = true
			s.ln("time,ppfd,temp")
			for i := range s.n {
				at := utc(s, i).Format(iso)
				switch {
				case i < s.n/2:
					s.f("%s,%s,%s", at, s.v("ppfd", i), s.v("temp", i))
				case i == s.n/2:
					s.ln("time,rh,ppfd,temp")
					fallthrough
				default:
					s.f("%s,%s,%s,%s", at, s.v("rh", i), s.v("ppfd", i), s.v("temp", i))
				}
			}
		}},
		lineByLine("errors as a number and a word", "datetime;par;status", "", func(s *sheet, i int) string {
			at := utc(s, i).Format(iso)
			if i%31 == 5 {
				return at + ";-9999;ERR"
			}
			return at + ";" + s.v("ppfd", i) + ";OK"
		}),
		lineByLine("mean, least and most", "Time UTC,PAR mean,PAR min,PAR max,N", "", func(s *sheet, i int) string {
			s.ask = true
			return utc(s, i).Format("2006-01-02 15:04:05,") + s.v("ppfd#mean", i) + "," + s.v("ppfd#min", i) + "," + s.v("ppfd#max", i) + ",60"
		}),
		{"the newest first, day before month", func(s *sheet) {
			s.ans.Order = "dmy"
			s.ask = true // the hour that comes twice
			s.ln("Fecha;Hora;Luz (lx);Tensión (V)")
			for k := range s.n {
				i := s.n - 1 - k
				s.f("%s;%s;%s", s.at(i).Format("02/01/06;15:04"), s.v("lux", i), decComma(s.v("volt", i)))
			}
		}},
		lineByLine("a meter's register with its number and state", "Meter,Read at,A+ total (kWh),Status", "", func(s *sheet, i int) string {
			return "1EMH0012345678," + s.at(i).Format(iso) + "," + s.v("kwh", i) + ",0x0000"
		}),
		{"sixteen bits, names of months", func(s *sheet) {
			s.ln("Date\tTime\tPPFD\tTemp")
			for i := range s.n {
				s.f("%s\t%s\t%s", utc(s, i).Format("02-Jan-2006\t15:04"), s.v("ppfd", i), s.v("temp", i))
			}
			s.ans.Zone, s.loc = "UTC", time.UTC
			s.data = []byte{0xff, 0xfe}
			for _, u := range utf16.Encode([]rune(s.b.String())) {
				s.data = binary.LittleEndian.AppendUint16(s.data, u)
			}
		}},
		lineByLine("hours from UTC in a column", "local,utc offset,par", "", func(s *sheet, i int) string {
			_, off := s.at(i).Zone()
			return s.at(i).Format("2006-01-02 15:04:05,") + fmt.Sprintf("%+.1f,", float64(off)/3600) + s.v("ppfd", i)
		}),
		lineByLine("ten times the value", "time;T x10 [degC];U x10 [V]", "", func(s *sheet, i int) string {
			s.ask = true
			return utc(s, i).Format(iso) + ";" + strings.Replace(s.v("temp", i), ".", "", 1) + ";" + strings.Replace(s.v("volt", i), ".", "", 1)
		}),
		lineByLine("two clocks", "time_local,time_utc,ppfd", "", func(s *sheet, i int) string {
			return s.at(i).Format("2006-01-02 15:04:05,") + utc(s, i).Format("2006-01-02 15:04:05,") + s.v("ppfd", i)
		}),
		{"seconds since a start that the head tells", func(s *sheet) {
			s.ask = true
			s.ln("Start: " + s.at(0).UTC().Format("2006-01-02 15:04:05") + " UTC")
			s.ln("Interval: " + fmt.Sprint(int(s.step.Seconds())) + " s")
			s.ln("Elapsed (s),PPFD,Temp")
			for i := range s.n {
				s.f("%d,%s,%s", i*int(s.step.Seconds()), s.v("ppfd", i), s.v("temp", i))
			}
		}},
		{"blocks of sensors, one after the other", func(s *sheet) {
			for _, id := range []string{"B1", "B2", "B3"} {
				s.ln("[" + id + "]")
				s.ln("time,ppfd")
				for i := range s.n {
					s.f("%s,%s", utc(s, i).Format(iso), s.v("ppfd#"+id, i))
				}
				s.ln("")
			}
			s.ask = true
		}},
		lineByLine("set point and actual", "ts;dim_set_%;dim_actual_%;par", "", func(s *sheet, i int) string {
			return s.at(i).Format(iso) + ";" + s.v("dim#set", i) + ";" + s.v("dim#actual", i) + ";" + s.v("ppfd", i)
		}),
		{"nested by time", func(s *sheet) {
			s.file = "bytime.json"
			m := map[string]any{}
			for i := range s.n {
				m[utc(s, i).Format(iso)] = map[string]any{"par": json.RawMessage(s.v("ppfd", i)), "temp": json.RawMessage(s.v("temp", i))}
			}
			s.ask = true
			s.data, _ = json.Marshal(map[string]any{"sensor": "S9", "series": m})
		}},
	}
}

func TestRound12(t *testing.T) { playRound(t, round12(), round12Contents(), 72) }
