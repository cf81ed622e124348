package inspect

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
)

func round11Contents() []sheet {
	return []sheet{
		{loc: place("Europe/Athens"), start: time.Date(2025, 3, 29, 8, 0, 0, 0, place("Europe/Athens")), step: 10 * time.Minute,
			n: 410}, // clocks go forward
		{loc: place("America/Vancouver"), start: time.Date(2026, 8, 1, 0, 0, 0, 0, place("America/Vancouver")),
			step: 30 * time.Minute, n: 340}, // no day above 12
		{loc: place("Asia/Tehran"), start: time.Date(2024, 12, 27, 6, 0, 0, 0, place("Asia/Tehran")), step: time.Hour, n: 270},
	}
}

func round11() []strange {
	all := round11Plain()
	for _, l := range round11Odd() {
		all = append(all, asked(l))
	}
	for _, l := range round11No() {
		all = append(all, refusing(l))
	}
	return all
}

func round11Plain() []strange {
	raw := func(v string) json.RawMessage { return json.RawMessage(v) }
	return []strange{
		lineByLine("a card's plain list", "Date,Time,Lux,Temp(C),RH(%)", "dmy", func(s *sheet, i int) string {
			return s.at(i).Format("02/01/2006,15:04:05,") + s.row(",", i, "lux", "temp", "rh")
		}),
		lineByLine("a gateway's list with names of sensors and of types", "gateway;sensor;type;time;value", "",
			func(s *sheet, i int) string {
				at := s.at(i).UTC().Format("2006-01-02T15:04:05Z;")
				return "gw1;bay1;ppfd;" + at + s.v("ppfd#1", i) + "\ngw1;bay1;temp;" + at + s.v("temp#1", i) + "\ngw1;bay2;ppfd;" + at +
					s.v("ppfd#2", i)
			}),
		lineByLine("a meter by quarter of an hour, padded", "Date      ;Time ;Import kWh ;Export kWh ", "dmy", func(s *sheet, i int) string {
			return s.at(i).Format("02.01.2006;15:04;") + fmt.Sprintf("%11s;%11s", decComma(s.v("kwh#1", i)), decComma(s.v("kwh#2", i)))
		}),
		lineByLine("a panel of tabs with a unit line in brackets", "Time\tI_L1\tI_L2\tP\n[-]\t[A]\t[A]\t[W]", "", func(s *sheet, i int) string {
			return s.at(i).Format("2006-01-02 15:04:05\t") + s.row("\t", i, "amp#1", "amp#2", "watt")
		}),
		lineByLine("dim levels of drivers", "timestamp,driver,level_pct,power_w", "", func(s *sheet, i int) string {
			at := s.at(i).UTC().Format(time.RFC3339)
			return at + ",D-01," + s.row(",", i, "dim#1", "watt#1") + "\n" + at + ",D-02," + s.row(",", i, "dim#2", "watt#2")
		}),
		lineByLine("names in Spanish, months in words", "Fecha;Hora;Luz (µmol/m²/s);Humedad (%)", "", func(s *sheet, i int) string {
			months := strings.Fields("ene feb mar abr may jun jul ago sep oct nov dic")
			at := s.at(i)
			return fmt.Sprintf("%02d-%s-%d;%s;", at.Day(), months[at.Month()-1], at.Year(), at.Format("15:04")) +
				s.rowComma(";", i, "ppfd", "rh")
		}),
		lineByLine("stamps in brackets", "stamp,ppfd", "", func(s *sheet, i int) string {
			return s.at(i).Format("[2006-01-02 15:04:05],") + s.v("ppfd", i)
		}),
		lineByLine("stamps and a zone's letters", "time|ppfd|volt", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format("2006-01-02 15:04:05 UTC|") + s.row("|", i, "ppfd", "volt")
		}),
		{"an object a sensor, its lists of times and values", func(s *sheet) {
			s.file = "lists.json"
			var all []any
			for _, id := range []string{"n1", "n2"} {
				var ts, vs []any
				for i := range s.n {
					ts, vs = append(ts, s.at(i).UTC().Format(time.RFC3339)), append(vs, raw(s.v("ppfd#"+id, i)))
				}
				all = append(all, map[string]any{"sensor": id, "times": ts, "ppfd": vs})
			}
			s.data, _ = json.Marshal(all)
		}},
		{"pages of an interface", func(s *sheet) {
			s.file = "page.json"
			var items []any
			for i := range s.n {
				items = append(items, map[string]any{"id": 90000 + i, "attributes": map[string]any{
					"measured_at": s.at(i).UTC().Format("2006-01-02T15:04:05.000Z"), "ppfd": raw(s.v("ppfd", i)),
					"battery": raw(s.note("battery", i, fmt.Sprintf("%.2f", 3.6-float64(i%30)/100)))}})
			}
			s.data, _ = json.Marshal(map[string]any{"data": items, "meta": map[string]any{"total": s.n, "page": 1, "per_page": 500}})
		}},
		{"lines of a broker", func(s *sheet) {
			s.file = "broker.log"
			for i := range s.n {
				s.f(`{"tst":"%s","topic":"hall2/bay4/par","qos":0,"retain":0,"payloadlen":5,"payload":%s}`,
					s.at(i).Format("2006-01-02T15:04:05.000000-0700"), s.v("ppfd", i))
			}
		}},
		{"two tables' worth of points", func(s *sheet) {
			s.file = "two.lp"
			for i := range s.n {
				s.f("par,bay=4 value=%s %d", s.v("ppfd", i), s.at(i).UnixNano())
				s.f("mains,phase=L1 value=%s %d", s.v("volt", i), s.at(i).UnixNano())
			}
		}},
		lineByLine("a spreadsheet's text with blanks behind", "Date ,PAR ,Temp ", "mdy", func(s *sheet, i int) string {
			return s.at(i).Format("1/2/2006 15:04 ,") + s.row(" ,", i, "ppfd", "temp") + " "
		}),
		lineByLine("one digit for all parts", "t;ppfd;temp", "dmy", func(s *sheet, i int) string {
			at := s.at(i)
			return at.Format("2.1.06 ") + fmt.Sprintf("%d:%d;", at.Hour(), at.Minute()) + s.row(";", i, "ppfd", "temp")
		}),
		lineByLine("quality in words behind the value", "Timestamp,PAR_Value,PAR_Quality", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format("2006-01-02T15:04:05Z,") + s.v("ppfd", i) + ",Good"
		}),
		lineByLine("blank where nothing changed", "time,ppfd,dim", "", func(s *sheet, i int) string {
			d := ""
			if i%6 == 0 {
				d = s.v("dim", i)
			}
			return s.at(i).UTC().Format(time.RFC3339) + "," + s.v("ppfd", i) + "," + d
		}),
		lineByLine("a workbench's remarks above", "% Logged by bench 4\n% Fs = 1/600 Hz\n% columns: time ppfd temp\ntime ppfd temp", "",
			func(s *sheet, i int) string {
				return s.at(i).UTC().Format("2006-01-02T15:04:05Z ") + s.row(" ", i, "ppfd", "temp")
			}),
		lineByLine("energy a day", "Day;Lighting (kWh);Pumps (kWh)", "dmy", func(s *sheet, i int) string {
			y, m, d := s.start.In(s.loc).Date()
			at := time.Date(y-1, m, d+i, 0, 0, 0, 0, s.loc)
			return at.Format("02/01/2006;") + decComma(s.vAt("kwh#1", i, at)) + ";" + decComma(s.vAt("kwh#2", i, at))
		}),
		lineByLine("a decimal point at the head of a tab list", "DATETIME\tPAR1\tPAR2\tPAR3", "", func(s *sheet, i int) string {
			return s.at(i).Format("2006-01-02T15:04:05\t") + s.row("\t", i, "ppfd#1", "ppfd#2", "ppfd#3")
		}),
		lineByLine("seconds since 1970 in quotes", `"time","ppfd","rh"`, "", func(s *sheet, i int) string {
			return fmt.Sprintf(`"%d","%s","%s"`, s.at(i).Unix(), s.v("ppfd", i), s.v("rh", i))
		}),
		{"a workbook with its dates as dates and numbers", func(s *sheet) {
			s.file = "plain.xlsx"
			x := excelize.NewFile()
			x.SetSheetRow("Sheet1", "A1", &[]any{"Date", "Time", "PPFD (µmol/m²/s)", "Air (°C)"})
			day, _ := x.NewStyle(&excelize.Style{CustomNumFmt: ptr("dd/mm/yyyy")})
			clock, _ := x.NewStyle(&excelize.Style{CustomNumFmt: ptr("hh:mm")})
			for i := range s.n {
				at := s.at(i)
				wall := time.Date(at.Year(), at.Month(), at.Day(), 0, 0, 0, 0, time.UTC)
				x.SetSheetRow("Sheet1", fmt.Sprintf("A%d", i+2), &[]any{float64(wall.Unix())/86400 + 25569,
					float64(at.Hour()*60+at.Minute()) / 1440, asNumber(s.v("ppfd", i)), asNumber(s.v("temp", i))})
			}
			x.SetCellStyle("Sheet1", "A2", fmt.Sprintf("A%d", s.n+1), day)
			x.SetCellStyle("Sheet1", "B2", fmt.Sprintf("B%d", s.n+1), clock)
			var b bytes.Buffer
			x.Write(&b)
			s.data = b.Bytes()
		}},
	}
}

func round11Odd() []strange {
	return []strange{
		lineByLine("raw counts and their factor above", "# factor 0.12 umol/m2/s per count\ntime,counts", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + "," + s.note("counts", i, fmt.Sprintf("%.0f", asNumber(s.text("ppfd", i, s.at(i)))/0.12))
		}),
		lineByLine("millivolts of a sensor without its factor", "Time;PAR sensor (mV);Temp (°C)", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + ";" + s.note("mv", i, fmt.Sprintf("%.2f", asNumber(s.text("ppfd", i, s.at(i)))/40)) + ";" + s.v("temp", i)
		}),
		lineByLine("which value was held over", "time,ppfd,substituted", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + "," + s.v("ppfd", i) + "," + map[bool]string{true: "Y", false: "N"}[i%20 == 3]
		}),
		lineByLine("how many samples are in the mean", "time,n,ppfd_mean,ppfd_sd", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + fmt.Sprintf(",%d,", 60-i%3) + s.v("ppfd#m", i) + "," + s.note("sd", i, fmt.Sprintf("%.2f", 1+float64(i%40)/10))
		}),
		lineByLine("sunrise and sunset beside", "Date,Sunrise,Sunset,DLI", "mdy", func(s *sheet, i int) string {
			y, m, d := s.start.In(s.loc).Date()
			at := time.Date(y-1, m, d+i, 0, 0, 0, 0, s.loc)
			return at.Format("01/02/2006,") + fmt.Sprintf("%02d:%02d,%02d:%02d,", 5+i%3, i*7%60, 19+i%2, i*5%60) + s.vAt("use", i, at)
		}),
		lineByLine("lamp on, lamp off, hours", "Date;On;Off;Hours", "dmy", func(s *sheet, i int) string {
			y, m, d := s.start.In(s.loc).Date()
			at := time.Date(y-1, m, d+i, 0, 0, 0, 0, s.loc)
			return at.Format("02.01.2006;") + fmt.Sprintf("%02d:%02d;%02d:%02d;", 4+i%2, i*3%60, 20+i%3, i*11%60) + decComma(s.vAt("hours", i, at))
		}),
		lineByLine("a shift in words", "Date,Shift,kWh", "", func(s *sheet, i int) string {
			y, m, d := s.start.In(s.loc).Date()
			at := time.Date(y-1, m, d+i, 0, 0, 0, 0, s.loc)
			return at.Format("2006-01-02,") + "early," + s.vAt("kwh#early", i, at) + "\n" + at.Format("2006-01-02,") + "late," + s.vAt("kwh#late", i, at)
		}),
		lineByLine("the weekday and the hour of the week", "week_start,hour_of_week,ppfd", "", func(s *sheet, i int) string {
			s.step = time.Hour
			at := s.at(i)
			y, m, d := at.Date()
			monday := time.Date(y, m, d-(int(at.Weekday())+6)%7, 0, 0, 0, 0, s.loc)
			return monday.Format("2006-01-02,") + fmt.Sprintf("%d,", (int(at.Weekday())+6)%7*24+at.Hour()) + s.v("ppfd", i)
		}),
		{"bays in rows, quantities in columns, a block a moment", func(s *sheet) {
			for i := range s.n {
				s.f("Time: %s", s.at(i).Format(isoLocal))
				s.ln("Bay;PPFD;Temp")
				for b := range 3 {
					s.f("%d;%s", b+1, s.row(";", i, fmt.Sprintf("ppfd#%d", b), fmt.Sprintf("temp#%d", b)))
				}
				s.ln("")
			}
		}},
		{"the first half by the minute, the second by day", func(s *sheet) {
			s.ln("time;kWh")
			for i := range s.n {
				s.ln(s.at(i).UTC().Format(time.RFC3339), ";", s.v("kwh", i))
			}
			s.ln("\nDaily totals")
			for d := range 5 {
				s.f("%s;%d.5", s.start.AddDate(0, 0, d).Format("2006-01-02"), 17+d)
			}
		}},
		lineByLine("corrected values behind the raw ones", "time,ppfd (raw),ppfd (corrected)", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + "," + s.row(",", i, "ppfd#raw", "ppfd#cor")
		}),
		lineByLine("an alarm's number", "time;ppfd;alarm", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + ";" + s.v("ppfd", i) + ";" + []string{"0", "0", "0", "14", "0", "3"}[i%6]
		}),
		lineByLine("a mode of the control", "time,ppfd,mode", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + "," + s.v("ppfd", i) + "," + []string{"1", "1", "2", "4"}[i/9%4]
		}),
		lineByLine("a tariff's number", "time;kWh;tariff", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + ";" + s.v("kwh", i) + ";" + []string{"1", "2"}[i/20%2]
		}),
		lineByLine("bits of a status word", "time,ppfd,status_bits", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + "," + s.v("ppfd", i) + "," + []string{"00000001", "00000011", "00010001"}[i%3]
		}),
		lineByLine("what a clock shows in two parts of a cell", "time;ppfd", "", func(s *sheet, i int) string {
			return s.at(i).Format("2006-01-02 (Mon) 15h04;") + s.v("ppfd", i)
		}),
		lineByLine("numbers with spaces between all thousands and a comma", "Час;Освітленість (lx)", "dmy", func(s *sheet, i int) string {
			return s.at(i).Format("02.01.2006 15:04;") + grouped(s.v("lux", i), " ", ",")
		}),
		lineByLine("negative light by an offset", "time,ppfd,net", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + "," + s.note("ppfd", i, fmt.Sprintf("%.1f", asNumber(s.text("ppfd", i, s.at(i)))-1.4)) + "," + s.v("out", i)
		}),
		lineByLine("hours that count down", "time;hours left", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + ";" + s.note("left", i, fmt.Sprintf("%.2f", 5000-float64(i)*0.21))
		}),
		lineByLine("two clocks of a day, one of them when it was uploaded", "date,time,upload,ppfd", "", func(s *sheet, i int) string {
			return s.at(i).Format("2006-01-02,15:04,") + s.at(i).Add(time.Duration(3+i*i%11)*time.Minute).Format("15:04,") + s.v("ppfd", i)
		}),
		lineByLine("a date of calibration on each line", "time,sensor,calibrated,ppfd", "", func(s *sheet, i int) string {
			at := s.at(i).UTC().Format(time.RFC3339)
			return at + ",b1,2023-05-04," + s.v("ppfd#1", i) + "\n" + at + ",b2,2024-02-11," + s.v("ppfd#2", i)
		}),
		lineByLine("decimals cut at the thousands", "Zeit;Leistung (W);Zähler (kWh)", "dmy", func(s *sheet, i int) string {
			return s.at(i).Format("02.01.2006 15:04;") + grouped(s.v("watt", i), ".", ",") + ";" + decComma(s.v("kwh", i))
		}),
		lineByLine("winter and summer by letters", "time,season,ppfd", "", func(s *sheet, i int) string {
			return s.at(i).Format("2006-01-02 15:04,") + map[bool]string{true: "S", false: "W"}[s.at(i).IsDST()] + "," + s.v("ppfd", i)
		}),
	}
}

func round11No() []strange {
	return []strange{
		lineByLine("cells that hold a value and its time", "bay1;bay2", "", func(s *sheet, i int) string {
			return s.v("ppfd#1", i) + "@" + s.at(i).Format("15:04") + ";" + s.v("ppfd#2", i) + "@" + s.at(i).Format("15:04")
		}),
		lineByLine("hours since midnight, no date", "hour,ppfd", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%.3f,", float64(s.at(i).Hour())+float64(s.at(i).Minute())/60) + s.v("ppfd", i)
		}),
		lineByLine("samples by number", "sample,ppfd,temp", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%d,", i+1) + s.row(",", i, "ppfd", "temp")
		}),
		lineByLine("month and value", "Month;kWh", "", func(s *sheet, i int) string {
			return s.at(i).Format("January;") + s.v("kwh", i)
		}),
	}
}

func TestRound11(t *testing.T) { playRound(t, round11(), round11Contents(), 141) }
