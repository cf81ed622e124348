package inspect

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
)

func round5Contents() []sheet {
	return []sheet{
		{loc: place("Europe/Amsterdam"), start: time.Date(2026, 10, 24, 12, 0, 0, 0, place("Europe/Amsterdam")),
			step: 5 * time.Minute, n: 700}, // an hour comes twice
		{loc: place("America/Toronto"), start: time.Date(2025, 12, 3, 0, 0, 0, 0, place("America/Toronto")),
			step: 30 * time.Minute, n: 380}, // no day above 12
		{loc: place("Africa/Nairobi"), start: time.Date(2026, 7, 20, 7, 0, 0, 0, place("Africa/Nairobi")),
			step: 2 * time.Minute, n: 1000}, // two days
	}
}

func round5() []strange {
	iso := "2006-01-02T15:04:05Z07:00"
	return []strange{
		lineByLine("a cloud export with ids of rows and places",
			"created_at,entry_id,field1,field2,latitude,longitude,elevation,status", "", func(s *sheet, i int) string {
				return fmt.Sprintf("%s,%d,%s,%s,51.98,5.66,12,", s.at(i).UTC().Format("2006-01-02 15:04:05 UTC"), 90210+i,
					s.v("ppfd", i), s.v("temp", i))
			}),
		lineByLine("the zone in the name of the time", "Timestamp (UTC);Light [umol/m2/s];Fan [%]", "",
			func(s *sheet, i int) string {
				return s.at(i).UTC().Format("2006-01-02 15:04:05;") + s.v("ppfd", i) + ";" + s.v("dim", i)
			}),
		lineByLine("relays as 0 and 1", "time,relay1,relay2,ppfd", "", func(s *sheet, i int) string {
			on := "1"
			v := s.v("ppfd", i)
			if v == "0.0" {
				on = "0"
			}
			return s.at(i).UTC().Format(iso) + "," + s.note("relay1?", i, on) + "," + s.note("relay2?", i,
				map[bool]string{true: "1", false: "0"}[i%7 < 3]) + "," + v
		}),
		lineByLine("a lamp that is 0 or 1", "Datum;Uhrzeit;Lampe;Temperatur", "dmy", func(s *sheet, i int) string {
			s.ask = true
			on := "1"
			if s.text("ppfd", i, s.at(i)) == "0.0" {
				on = "0"
			}
			return s.at(i).Format("02.01.2006;15:04;") + s.note("lamp", i, on) + ";" + decComma(s.v("temp", i))
		}),
		lineByLine("hour meters of lamps by number", "Date,Lamp 1 (h),Lamp 2 (h),Lamp 3 (h)", "mdy", func(s *sheet, i int) string {
			return s.at(i).Format("01/02/2006 15:04,") + s.v("hours#1", i) + "," + s.v("hours#2", i) + "," + s.v("hours#3", i)
		}),
		{"two gateways, their own order of columns, in one list", func(s *sheet) {
			s.file = "list.json"
			var all []json.RawMessage
			for i := range s.n {
				all = append(all, json.RawMessage(fmt.Sprintf(`{"time":"%s","gw":"a","ppfd":%s,"temp":%s}`,
					s.at(i).UTC().Format(iso), s.v("ppfd#a", i), s.v("temp#a", i))))
				all = append(all, json.RawMessage(fmt.Sprintf(`{"temp":%s,"gw":"b","ppfd":%s,"time":"%s"}`, s.v("temp#b", i),
					s.v("ppfd#b", i), s.at(i).UTC().Format(iso))))
			}
			s.data, _ = json.Marshal(all)
		}},
		{"pages of an answer, one a line", func(s *sheet) {
			s.file = "pages.jsonl"
			for i := 0; i < s.n; i += 50 {
				var rows []string
				for k := i; k < min(i+50, s.n); k++ {
					rows = append(rows, fmt.Sprintf(`{"t":%d,"par":%s}`, s.at(k).UnixMilli(), s.v("ppfd", k)))
				}
				s.f(`{"page":%d,"total":%d,"items":[%s]}`, i/50+1, s.n, strings.Join(rows, ","))
			}
		}},
		{"days as names, readings in lists", func(s *sheet) {
			s.file, s.ask = "days.json", true
			m := map[string][]json.RawMessage{}
			for i := range s.n {
				d := s.at(i).Format("2006-01-02")
				m[d] = append(m[d], json.RawMessage(fmt.Sprintf(`{"clock":"%s","ppfd":%s}`, s.at(i).Format("15:04"),
					s.v("ppfd", i))))
			}
			s.data, _ = json.Marshal(m)
		}},
		lineByLine("stamps without marks and a letter", "ts;wert1;wert2", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format("20060102T150405Z;") + s.v("ppfd", i) + ";" + s.v("volt", i)
		}),
		lineByLine("quoted numbers with decimal commas between commas", "\"Zeit\",\"PPFD\",\"Strom\"", "dmy",
			func(s *sheet, i int) string {
				return fmt.Sprintf(`"%s","%s","%s"`, s.at(i).Format("02.01.2006 15:04"), decComma(s.v("ppfd", i)),
					decComma(s.v("amp", i)))
			}),
		lineByLine("no header, three numbers", "", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(iso) + "," + s.v("ppfd", i) + "," + s.v("temp", i) + "," + s.v("volt", i)
		}),
		lineByLine("blank-aligned without a header", "", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%s %8s %6s", s.at(i).Format("2006-01-02 15:04:05"), s.v("ppfd", i), s.v("temp", i))
		}),
		lineByLine("blanks round everything", " time  ;  PPFD ; RH ", "", func(s *sheet, i int) string {
			return fmt.Sprintf(" %s ;  %6s ;  %5s ", s.at(i).Format("2006-01-02 15:04"), s.v("ppfd", i), s.v("rh", i))
		}),
		{"two sensors take turns, told by name", func(s *sheet) {
			s.ln("zeitpunkt;sensor;messgröße;wert;einheit")
			for i := range s.n {
				s.f("%s;halle-%d;PPFD;%s;µmol/m²s", s.at(i).UTC().Format(iso), i%2+1,
					decComma(s.v(fmt.Sprintf("ppfd#%d", i%2+1), i)))
			}
		}},
		{"tags and fields", func(s *sheet) {
			s.file = "export.lp"
			for i := range s.n {
				s.f(`climate,room=flower\ 1,node=n4 ppfd=%s,temp=%s,seq=%si %d`, s.v("ppfd", i), s.v("temp", i),
					s.note("seq", i, strconv.Itoa(i)), s.at(i).UnixNano())
			}
			s.ask = true
		}},
		{"workbook of clocks and dates in two columns", func(s *sheet) {
			s.file = "log.xlsx"
			x := excelize.NewFile()
			day, _ := x.NewStyle(&excelize.Style{NumFmt: 14})
			clock, _ := x.NewStyle(&excelize.Style{NumFmt: 20})
			x.SetSheetRow("Sheet1", "A1", &[]any{"Date", "Time", "PPFD", "Remark"})
			for i := range s.n {
				at := s.at(i)
				days := float64(time.Date(at.Year(), at.Month(), at.Day(), 0, 0, 0, 0, time.UTC).Unix())/86400 + 25569
				x.SetSheetRow("Sheet1", fmt.Sprintf("A%d", i+2),
					&[]any{days, float64(at.Hour()*60+at.Minute()) / 1440, asNumber(s.v("ppfd", i))})
			}
			x.SetCellStyle("Sheet1", "A2", fmt.Sprintf("A%d", s.n+1), day)
			x.SetCellStyle("Sheet1", "B2", fmt.Sprintf("B%d", s.n+1), clock)
			var b bytes.Buffer
			x.Write(&b)
			s.data = b.Bytes()
		}},
		{"workbook, a sheet a month", func(s *sheet) {
			s.file, s.ask = "year.xlsx", true
			x := excelize.NewFile()
			x.SetSheetName("Sheet1", "A")
			x.NewSheet("B")
			for k, name := range []string{"A", "B"} {
				x.SetSheetRow(name, "A1", &[]any{"Time", "PPFD"})
				for i := k * s.n / 2; i < (k+1)*s.n/2; i++ {
					x.SetSheetRow(name, fmt.Sprintf("A%d", i-k*s.n/2+2),
						&[]any{s.at(i).Format("2006-01-02 15:04:05"), asNumber(s.v("ppfd", i))})
				}
			}
			var b bytes.Buffer
			x.Write(&b)
			s.data = b.Bytes()
		}},
		lineByLine("kilowatts in name, watts in cells", "time,Power (kW)", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(iso) + "," + s.v("use", i)
		}),
		lineByLine("limits and set points beside", "Time;Temp;Temp set;Temp low alarm;Temp high alarm", "",
			func(s *sheet, i int) string {
				return s.at(i).UTC().Format(iso) + ";" + s.v("temp", i) + ";" + s.note("set?", i, "22.5") + ";" + s.note("low?", i,
					"10") + ";" + s.note("high?", i, "35")
			}),
		lineByLine("points end the words of the header", "Dat.;Zeit;Bel.-St.;rel. F.", "dmy", func(s *sheet, i int) string {
			return s.at(i).Format("02.01.06;15:04;") + s.v("lux", i) + ";" + decComma(s.v("rh", i))
		}),
		lineByLine("a stamp a word and a number, no delimiter but blanks", "", "", func(s *sheet, i int) string {
			s.file = "serial.log"
			return s.at(i).UTC().Format("[2006-01-02 15:04:05.000Z] ") + "PAR: " + s.v("ppfd", i)
		}),
		lineByLine("gaps as words", "Time,PPFD,Temp", "", func(s *sheet, i int) string {
			if i%23 == 5 {
				return s.at(i).UTC().Format(iso) + ",Sensor fault,Sensor fault"
			}
			return s.at(i).UTC().Format(iso) + "," + s.v("ppfd", i) + "," + s.v("temp", i)
		}),
		{"a sum by the day among the rows", func(s *sheet) {
			s.ask = true
			s.ln("time;kWh")
			for i := range s.n {
				s.f("%s;%s", s.at(i).UTC().Format(iso), s.v("use", i))
				if h := s.at(i); h.Hour() == 23 && s.at(i+1).Day() != h.Day() {
					s.f("Total %s;%d.5", h.Format("2006-01-02"), 4+i%3)
				}
			}
		}},
		lineByLine("month in words before the day, dashes", "Reading Date,PPFD (µmol m-2 s-1)", "", func(s *sheet, i int) string {
			return s.at(i).Format("Jan-02-2006 15:04,") + s.v("ppfd", i)
		}),
		{"the whole month back, newest page first", func(s *sheet) {
			s.ln("time,ppfd")
			for p := (s.n - 1) / 60; p >= 0; p-- {
				for i := p * 60; i < min(p*60+60, s.n); i++ {
					s.f("%s,%s", s.at(i).UTC().Format(iso), s.v("ppfd", i))
				}
			}
		}},
	}
}

func TestRound5(t *testing.T) { playRound(t, round5(), round5Contents(), 70) }
