package inspect

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
	"golang.org/x/text/encoding/japanese"
)

func round1Contents() []sheet {
	return []sheet{
		{loc: place("Europe/Warsaw"), start: time.Date(2025, 11, 3, 0, 0, 0, 0, place("Europe/Warsaw")),
			step: 15 * time.Minute, n: 384},
		{loc: place("America/Chicago"), start: time.Date(2026, 3, 6, 20, 30, 0, 0, place("America/Chicago")),
			step: 10 * time.Minute, n: 420},
		{loc: place("Australia/Adelaide"), start: time.Date(2024, 12, 28, 0, 0, 0, 0, place("Australia/Adelaide")),
			step: time.Hour, n: 240},
	}
}

// hourly makes the content one of whole hours from a midnight.
func (s *sheet) hourly() {
	y, m, d := s.start.In(s.loc).Date()
	s.start, s.step, s.n = time.Date(y, m, d, 0, 0, 0, 0, s.loc), time.Hour, 24*12
}

func round1() []strange {
	return []strange{
		{"hours 1 to 24 in Polish", func(s *sheet) {
			s.hourly()
			s.ask, s.ans.Interval = true, "begin"
			s.ln("Data;Godzina;Energia pobrana [kWh]")
			for i := range s.n {
				at := s.at(i)
				s.f("%s;%d;%s", at.Format("2006-01-02"), at.Hour()+1, decComma(s.v("use", i)))
			}
		}},
		{"supply point, hours 1 to 24 in Spanish", func(s *sheet) {
			s.hourly()
			s.ask, s.ans.Interval, s.ans.Order = true, "begin", "dmy"
			s.ln("Punto;Fecha;Hora;Consumo_kWh;Metodo_obtencion")
			for i := range s.n {
				at := s.at(i)
				s.f("XX0021000012345678AB;%s;%d;%s;R", at.Format("02/01/2006"), at.Hour()+1, decComma(s.v("use", i)))
			}
		}},
		{"newest first in French, n/a for no value", func(s *sheet) {
			s.ans.Order = "dmy"
			s.ln(`"Date de relevé";"Heure";"Puissance (W)";"Tension (V)"`)
			for i := s.n - 1; i >= 0; i-- {
				at := s.at(i)
				w := `"n/a"`
				if i%41 != 7 {
					w = `"` + s.v("watt", i) + `"`
				}
				s.f(`"%s";"%s";%s;"%s"`, at.Format("02/01/2006"), at.Format("15:04:05"), w, decComma(s.v("volt", i)))
			}
			s.data = []byte("\ufeff" + strings.ReplaceAll(s.b.String(), "\n", "\r\n"))
		}},
		{"trend log of a building system", func(s *sheet) {
			s.ln(`"Trend:","/Hall 2/Bay 4/PAR"`)
			s.ln(`"Interval:","00:15:00"`)
			s.ln(`"Unit:","µmol/m²/s"`)
			s.ln("")
			s.ln(`"Date","Time","Value","Status"`)
			for i := range s.n {
				at := s.at(i)
				s.f(`"%s","%s","%s","{ok}"`, at.Format("02-Jan-06"), at.Format("3:04:05 PM"), s.v("ppfd", i))
			}
		}},
		{"answer with series of pairs", func(s *sheet) {
			s.file = "answer.json"
			type series struct {
				Name   string            `json:"name"`
				Unit   string            `json:"unit"`
				Points []json.RawMessage `json:"points"`
			}
			var all []series
			for _, ch := range []string{"ppfd", "temp"} {
				one := series{Name: ch, Unit: "-"}
				for i := range s.n {
					one.Points = append(one.Points, json.RawMessage(fmt.Sprintf("[%d, %s]", s.at(i).UnixMilli(), s.v(ch, i))))
				}
				all = append(all, one)
			}
			s.data, _ = json.Marshal(map[string]any{"status": "ok", "data": map[string]any{"series": all}})
		}},
		{"columns under their units, zone named", func(s *sheet) {
			s.file, s.ask = "hourly.json", true
			var times []string
			cols := map[string][]json.RawMessage{}
			for i := range s.n {
				times = append(times, s.at(i).Format("2006-01-02T15:04"))
				for _, ch := range []string{"out", "rh"} {
					cols[ch] = append(cols[ch], json.RawMessage(s.v(ch, i)))
				}
			}
			s.data, _ = json.Marshal(map[string]any{
				"latitude": 51.25, "longitude": 22.5, "elevation": 171, "timezone": s.loc.String(),
				"hourly_units": map[string]string{"time": "iso8601", "temperature": "°C", "humidity": "%"},
				"hourly":       map[string]any{"time": times, "temperature": cols["out"], "humidity": cols["rh"]},
			})
		}},
		{"lines with a list of named values", func(s *sheet) {
			s.file = "feed.jsonl"
			for i := range s.n {
				s.f(`{"ts":"%s","device":{"id":"gw-7","fw":"1.4.2"},"readings":[{"name":"par","value":%s},{"name":"temperature","value":%s}]}`,
					s.at(i).UTC().Format(time.RFC3339), s.v("ppfd", i), s.v("temp", i))
			}
		}},
		{"lines with the payload as text", func(s *sheet) {
			s.file = "bus.jsonl"
			for i := range s.n {
				s.f(`{"received":"%s","topic":"bay/4","payload":"{\"ppfd\": %s, \"temp\": %s}"}`,
					s.at(i).UTC().Format("2006-01-02T15:04:05.000Z"), s.v("ppfd", i), s.v("temp", i))
			}
		}},
		{"stamp, topic and value between blanks", func(s *sheet) {
			s.file = "mqtt.log"
			for i := range s.n {
				at := s.at(i).Format("2006-01-02T15:04:05-0700")
				s.f("%s site/bay1/ppfd %s", at, s.v("ppfd", i))
				s.f("%s site/bay1/volt %s", at, s.v("volt", i))
			}
		}},
		{"keys and values", func(s *sheet) {
			s.file = "node.log"
			for i := range s.n {
				s.f(`time="%s" node=A1 ppfd=%s temp=%s`, s.at(i).Format("2006-01-02 15:04:05"), s.v("ppfd", i), s.v("temp", i))
			}
		}},
		{"station table with four header lines", func(s *sheet) {
			s.file = "station_Table1.dat"
			s.ln(`"TOB5","hall","LG1000","1234","Std.30","prog.cr1","4711","Table1"`)
			s.ln(`"TIMESTAMP","RECORD","PAR_Avg","T_Avg","Batt_Min"`)
			s.ln(`"TS","RN","umol/s/m^2","Deg C","Volts"`)
			s.ln(`"","","Avg","Avg","Min"`)
			for i := range s.n {
				temp := "\"NAN\""
				if i%50 != 9 {
					temp = s.v("temp", i)
				}
				s.f(`"%s",%d,%s,%s,%s`, s.at(i).Format("2006-01-02 15:04:05"), 48210+i, s.v("ppfd", i), temp, s.v("volt#b", i))
			}
		}},
		{"seconds since a start in the title", func(s *sheet) {
			s.refuse = true
			s.ln("Start: ", s.at(0).Format("2006-01-02 15:04:05"))
			s.ln("Elapsed (s),PPFD")
			for i := range s.n {
				s.f("%d,%s", int(s.step.Seconds())*i, s.v("ppfd", i))
			}
		}},
		{"two loggers side by side, each with its own stamps", func(s *sheet) {
			s.ask = true
			s.ln("Time A;PPFD A;Time B;PPFD B")
			for i := range s.n {
				b := s.at(i).Add(7 * time.Minute)
				s.f("%s;%s;%s;%s", s.at(i).Format("2006-01-02 15:04:05"), s.v("ppfd#a", i), b.Format("2006-01-02 15:04:05"),
					s.vAt("ppfd#b", i, b))
			}
		}},
		{"clock down, days across", func(s *sheet) {
			s.hourly()
			s.start, s.n, s.ask = s.start.AddDate(0, 0, 2), 240, true
			head := "Uhrzeit"
			for d := range 8 {
				head += s.start.AddDate(0, 0, d).Format(";02.01.2006")
			}
			s.ln(head)
			s.ans.Order = "dmy"
			for h := range 24 {
				line := fmt.Sprintf("%02d:00", h)
				for d := range 8 {
					y, m, dd := s.start.AddDate(0, 0, d).Date()
					line += ";" + decComma(s.vAt("ppfd", 24*d+h, time.Date(y, m, dd, h, 0, 0, 0, s.loc)))
				}
				s.ln(line)
			}
		}},
		{"dots behind the day in Hungarian", func(s *sheet) {
			s.ln("Időpont;Fogyasztás (kWh);Hőmérséklet (°C)")
			for i := range s.n {
				s.f("%s;%s;%s", s.at(i).Format("2006.01.02. 15:04:05"), decComma(s.v("kwh", i)), decComma(s.v("temp", i)))
			}
		}},
		{"Japanese in its old encoding", func(s *sheet) {
			s.ln("日時,光量子束密度,温度")
			for i := range s.n {
				s.f("%s,%s,%s", s.at(i).Format("2006/01/02 15:04:05"), s.v("ppfd", i), s.v("temp", i))
			}
			s.data, _ = japanese.ShiftJIS.NewEncoder().Bytes([]byte(s.b.String()))
		}},
		{"years of another era", func(s *sheet) {
			s.refuse, s.ans.Order = true, "dmy"
			s.ln("วันที่,เวลา,PPFD")
			for i := range s.n {
				at := s.at(i)
				s.f("%s/%d,%s,%s", at.Format("02/01"), at.Year()+543, at.Format("15:04"), s.v("ppfd", i))
			}
		}},
		{"meters named by numbers", func(s *sheet) {
			s.ans.Order = "dmy"
			s.ln("Zeitstempel;100234;100235;100236")
			for i := range s.n {
				s.f("%s;%s;%s;%s", s.at(i).Format("02.01.2006 15:04"), decComma(s.v("kwh#1", i)), decComma(s.v("kwh#2", i)),
					decComma(s.v("hours", i)))
			}
		}},
		{"long, with quantity and unit", func(s *sheet) {
			s.ln("device_id,measured_at,quantity,value,unit")
			for i := range s.n {
				at := s.at(i).UTC().Format("2006-01-02 15:04:05+00:00")
				for _, d := range []string{"d-01", "d-02"} {
					s.f("%s,%s,ppfd,%s,umol/m2/s", d, at, s.v("ppfd#"+d, i))
					s.f("%s,%s,supply,%s,V", d, at, s.v("volt#"+d, i))
				}
			}
		}},
		{"least, mean and most of an interval", func(s *sheet) {
			s.ans.Order = "mdy"
			s.ln("Date/Time,PPFD min,PPFD avg,PPFD max")
			for i := range s.n {
				s.f("%s,%s,%s,%s", s.at(i).Format("1/2/2006 15:04"), s.v("ppfd#min", i), s.v("ppfd#avg", i), s.v("ppfd#max", i))
			}
		}},
		{"the header again every 50 lines", func(s *sheet) {
			for i := range s.n {
				if i%50 == 0 {
					s.ln("time;ppfd;volt")
				}
				s.f("%s;%s;%s", s.at(i).Format("2006-01-02 15:04"), s.v("ppfd", i), s.v("volt", i))
			}
		}},
		{"two files in one, columns changed", func(s *sheet) {
			s.ln("time;ppfd;co2")
			for i := range s.n {
				if i == s.n/2 {
					s.ln("time;co2;ppfd")
				}
				a, b := s.v("ppfd", i), s.v("co2", i)
				if i >= s.n/2 {
					a, b = b, a
				}
				s.f("%s;%s;%s", s.at(i).Format("2006-01-02 15:04"), a, b)
			}
		}},
		{"workbook with titles, dates and a sum", func(s *sheet) {
			s.file = "export.xlsx"
			x := excelize.NewFile()
			style, _ := x.NewStyle(&excelize.Style{CustomNumFmt: ptr("dd.mm.yyyy hh:mm")})
			x.SetCellValue("Sheet1", "A1", "Messwerte Halle 2")
			x.SetCellValue("Sheet1", "A2", "erstellt von: Leitstand")
			x.SetSheetRow("Sheet1", "A4", &[]any{"Zeitpunkt", "Leistung [W]", "Zähler [kWh]"})
			for i := range s.n {
				at := s.at(i)
				wall := time.Date(at.Year(), at.Month(), at.Day(), at.Hour(), at.Minute(), 0, 0, time.UTC)
				x.SetSheetRow("Sheet1", fmt.Sprintf("A%d", i+5), &[]any{wall, asNumber(s.v("watt", i)), asNumber(s.v("kwh", i))})
			}
			x.SetCellStyle("Sheet1", "A5", fmt.Sprintf("A%d", s.n+4), style)
			x.SetSheetRow("Sheet1", fmt.Sprintf("A%d", s.n+5), &[]any{"Summe", 123456.0, 0.5})
			var b bytes.Buffer
			x.Write(&b)
			s.data = b.Bytes()
		}},
		{"what a database's console prints", func(s *sheet) {
			s.file = "query.txt"
			s.ln("          ts            | ppfd  | temp ")
			s.ln("------------------------+-------+------")
			for i := range s.n {
				s.f(" %s | %5s | %4s", s.at(i).UTC().Format("2006-01-02 15:04:05+00"), s.v("ppfd", i), s.v("temp", i))
			}
			s.f("(%d rows)", s.n)
		}},
		{"apostrophes part the thousands", func(s *sheet) {
			s.ans.Order = "dmy"
			s.ln("Zeit;Beleuchtungsstärke [lx];Strom [A]")
			for i := range s.n {
				v := s.v("lux", i)
				if len(v) > 3 {
					v = v[:len(v)-3] + "'" + v[len(v)-3:]
				}
				s.f("%s;%s;%s", s.at(i).Format("02.01.2006 15:04"), v, s.v("amp", i))
			}
		}},
	}
}

func ptr[T any](v T) *T { return &v }

func asNumber(v string) float64 {
	var x float64
	fmt.Sscan(strings.Replace(v, ",", ".", 1), &x)
	return x
}

func TestRound1(t *testing.T) { playRound(t, round1(), round1Contents(), 70) }
