package inspect

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

func round3Contents() []sheet {
	return []sheet{
		{loc: place("Europe/Athens"), start: time.Date(2026, 5, 6, 12, 0, 0, 0, place("Europe/Athens")),
			step: 20 * time.Minute, n: 500},
		{loc: place("Asia/Tokyo"), start: time.Date(2026, 1, 1, 0, 0, 0, 0, place("Asia/Tokyo")), step: time.Minute,
			n: 1600}, // two days, none above 12
		{loc: place("America/Sao_Paulo"), start: time.Date(2023, 2, 20, 0, 0, 0, 0, place("America/Sao_Paulo")),
			step: time.Hour, n: 400},
	}
}

// halves says AM or PM in words of a place.
func halves(t time.Time, am, pm string) string {
	if t.Hour() < 12 {
		return am
	}
	return pm
}

func round3() []strange {
	return []strange{
		{"two months in one zip", func(s *sheet) {
			s.file = "export.zip"
			var b bytes.Buffer
			z := zip.NewWriter(&b)
			for half := range 2 {
				w, _ := z.Create(fmt.Sprintf("part_%d.csv", half+1))
				fmt.Fprintln(w, "time,ppfd,volt")
				for i := half * s.n / 2; i < (half+1)*s.n/2; i++ {
					fmt.Fprintf(w, "%s,%s,%s\n", s.at(i).Format("2006-01-02 15:04:05"), s.v("ppfd", i), s.v("volt", i))
				}
			}
			z.Close()
			s.data = b.Bytes()
		}},
		{"packed, quoted milliseconds between tabs", func(s *sheet) {
			s.file = "dump.tsv.gz"
			s.ln("\"ts\"\t\"ppfd\"\t\"dim\"")
			for i := range s.n {
				s.f("\"%d\"\t\"%s\"\t\"%s\"", s.at(i).UnixMilli(), s.v("ppfd", i), s.v("dim", i))
			}
			var b bytes.Buffer
			z := gzip.NewWriter(&b)
			z.Write([]byte(s.b.String()))
			z.Close()
			s.data = b.Bytes()
		}},
		{"Korean halves of the day in wide letters", func(s *sheet) {
			s.ln("시간\t광량\t온도")
			for i := range s.n {
				at := s.at(i)
				s.f("%s %s %s\t%s\t%s", at.Format("2006-01-02"), halves(at, "오전", "오후"), at.Format("3:04:05"), s.v("ppfd", i),
					s.v("temp", i))
			}
			s.data, _ = unicode.UTF16(unicode.BigEndian, unicode.UseBOM).NewEncoder().Bytes([]byte(s.b.String()))
		}},
		lineByLine("Greek halves of the day", "Ημερομηνία;Φωτισμός (lx);Θερμοκρασία", "dmy", func(s *sheet, i int) string {
			at := s.at(i)
			return fmt.Sprintf("%s %s;%s;%s", at.Format("2/1/2006 3:04:05"), halves(at, "πμ", "μμ"), s.v("lux", i),
				decComma(s.v("temp", i)))
		}),
		lineByLine("a letter behind the year in Bulgarian", "Дата;Мощност (W);Напрежение (V)", "dmy",
			func(s *sheet, i int) string {
				return fmt.Sprintf("%s г. %s ч.;%s;%s", s.at(i).Format("2.1.2006"), s.at(i).Format("15:04:05"), s.v("watt", i),
					decComma(s.v("volt", i)))
			}),
		lineByLine("Vietnamese halves of the day", "Thời gian,PPFD,Độ ẩm", "dmy", func(s *sheet, i int) string {
			at := s.at(i)
			return fmt.Sprintf("%s %s,%s,%s", at.Format("02/01/2006 3:04:05"), halves(at, "SA", "CH"), s.v("ppfd", i),
				s.v("rh", i))
		}),
		{"Russian in its old encoding", func(s *sheet) {
			s.ans.Order = "dmy"
			s.ln("Дата и время;Освещённость, лк;Темп., °C")
			for i := range s.n {
				s.f("%s;%s;%s", s.at(i).Format("02.01.2006 15:04:05"), s.v("lux", i), decComma(s.v("temp", i)))
			}
			s.data, _ = charmap.Windows1251.NewEncoder().Bytes([]byte(s.b.String()))
		}},
		lineByLine("Turkish months", "Tarih;PPFD;Sıcaklık", "", func(s *sheet, i int) string {
			months := strings.Fields("Ocak Şubat Mart Nisan Mayıs Haziran Temmuz Ağustos Eylül Ekim Kasım Aralık")
			at := s.at(i)
			return fmt.Sprintf("%02d %s %d %s;%s;%s", at.Day(), months[at.Month()-1], at.Year(), at.Format("15:04"),
				decComma(s.v("ppfd", i)), decComma(s.v("temp", i)))
		}),
		lineByLine("Italian months", `"Data","Potenza (W)"`, "", func(s *sheet, i int) string {
			months := strings.Fields("gen feb mar apr mag giu lug ago set ott nov dic")
			at := s.at(i)
			return fmt.Sprintf(`"%d %s %d, %s","%s"`, at.Day(), months[at.Month()-1], at.Year(), at.Format("15:04"),
				s.v("watt", i))
		}),
		lineByLine("Dutch weekdays and months", "Moment;Licht (PPFD);Spanning", "", func(s *sheet, i int) string {
			months := strings.Fields("jan. feb. mrt. apr. mei jun. jul. aug. sep. okt. nov. dec.")
			days := strings.Fields("zo ma di wo do vr za")
			at := s.at(i)
			return fmt.Sprintf("%s %d %s %d %s;%s;%s", days[at.Weekday()], at.Day(), months[at.Month()-1], at.Year(),
				at.Format("15:04"), decComma(s.v("ppfd", i)), decComma(s.v("volt", i)))
		}),
		lineByLine("Chinese halves before the clock", "采集时间,光照(lx),温度(℃),湿度(%)", "", func(s *sheet, i int) string {
			at := s.at(i)
			return fmt.Sprintf("%s %s%s,%s,%s,%s", at.Format("2006-01-02"), halves(at, "上午", "下午"), at.Format("03:04:05"),
				s.v("lux", i), s.v("temp", i), s.v("rh", i))
		}),
		lineByLine("halves with dots and blanks", "Fecha,PPFD,Voltaje", "dmy", func(s *sheet, i int) string {
			at := s.at(i)
			return fmt.Sprintf("%s %s,%s,%s", at.Format("02/01/2006 03:04:05"), halves(at, "a. m.", "p. m."), s.v("ppfd", i),
				s.v("volt", i))
		}),
		{"periods of half an hour by number", func(s *sheet) {
			s.hourly()
			s.step, s.n, s.ask, s.ans.Interval = 30*time.Minute, 400, true, "begin"
			s.ln("SettlementDate,SettlementPeriod,kWh")
			for i := range s.n {
				at := s.at(i)
				s.f("%s,%d,%s", at.Format("2006-01-02"), at.Hour()*2+at.Minute()/30+1, s.v("use", i))
			}
		}},
		{"date, hour, quarter", func(s *sheet) {
			s.hourly()
			s.step, s.n, s.ask, s.ans.Interval, s.ans.Order = 15*time.Minute, 500, true, "begin", "dmy"
			s.ln("Datum;Stunde;Viertelstunde;Leistung")
			for i := range s.n {
				at := s.at(i)
				s.f("%s;%d;%d;%s", at.Format("02.01.2006"), at.Hour(), at.Minute()/15+1, s.v("watt", i))
			}
		}},
		lineByLine("minutes since 1970", "minute,ppfd", "", func(s *sheet, i int) string {
			s.refuse = true
			return fmt.Sprintf("%d,%s", s.at(i).Unix()/60, s.v("ppfd", i))
		}),
		lineByLine("minus behind the number", "Date;Outside;Inside", "dmy", func(s *sheet, i int) string {
			v := s.v("out", i)
			if strings.HasPrefix(v, "-") {
				v = v[1:] + "-"
			}
			return fmt.Sprintf("%s;%s;%s", s.at(i).Format("02.01.2006 15:04"), decComma(v), decComma(s.v("temp", i)))
		}),
		lineByLine("brackets for negative numbers", "Date,Outside,Inside", "mdy", func(s *sheet, i int) string {
			v := s.v("out", i)
			if strings.HasPrefix(v, "-") {
				v = "(" + v[1:] + ")"
			}
			return fmt.Sprintf("%s,%s,%s", s.at(i).Format("01/02/2006 15:04"), v, s.v("temp", i))
		}),
		lineByLine("signs behind the numbers", "time,temp,rh,volt", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%s,%s°C,%s%%,%s V", s.at(i).Format("2006-01-02 15:04"), s.v("temp", i), s.v("rh", i),
				s.v("volt", i))
		}),
		lineByLine("powers of ten with commas", "Zeit;PPFD;Zähler", "dmy", func(s *sheet, i int) string {
			return fmt.Sprintf("%s;%s;%s", s.at(i).Format("02.01.2006 15:04:05"),
				decComma(fmt.Sprintf("%.4E", asNumber(s.v("ppfd", i)))), decComma(fmt.Sprintf("%.9E", asNumber(s.v("kwh", i)))))
		}),
		lineByLine("three columns of one name", "Time,Value,Value,Value", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%s,%s,%s,%s", s.at(i).Format("2006-01-02T15:04:05"), s.v("ppfd", i), s.v("temp", i),
				s.v("rh", i))
		}),
		lineByLine("local time and its time in UTC", "local,utc,ppfd", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%s,%s,%s", s.at(i).Format("2006-01-02 15:04:05"), s.at(i).UTC().Format("2006-01-02 15:04:05"),
				s.v("ppfd", i))
		}),
		lineByLine("received in batches, measured at its time", "received_at,measured_at,ppfd,volt", "",
			func(s *sheet, i int) string {
				return fmt.Sprintf("%s,%s,%s,%s", s.at(i/20*20+20).UTC().Format(time.RFC3339), s.at(i).UTC().Format(time.RFC3339),
					s.v("ppfd", i), s.v("volt", i))
			}),
		{"nodes by number, in turn", func(s *sheet) {
			s.ln("time;node;ppfd;volt")
			for i := range s.n {
				for _, node := range []string{"1", "2", "3"} {
					s.f("%s;%s;%s;%s", s.at(i).Format("2006-01-02 15:04"), node, s.v("ppfd#"+node, i), s.v("volt#"+node, i))
				}
			}
		}},
		{"workbook of texts beside an information sheet", func(s *sheet) {
			s.file, s.ans.Order = "bericht.xlsx", "dmy"
			x := excelize.NewFile()
			x.SetSheetName("Sheet1", "Info")
			x.SetSheetRow("Info", "A1", &[]any{"Anlage", "Halle 2"})
			x.SetSheetRow("Info", "A2", &[]any{"Stand", "31.12.2025"})
			x.NewSheet("Daten")
			x.SetSheetRow("Daten", "A1", &[]any{"Datum", "Uhrzeit", "PPFD", "Temperatur"})
			for i := range s.n {
				x.SetSheetRow("Daten", fmt.Sprintf("A%d", i+2),
					&[]any{s.at(i).Format("02.01.2006"), s.at(i).Format("15:04"), decComma(s.v("ppfd", i)), decComma(s.v("temp", i))})
			}
			var b bytes.Buffer
			x.Write(&b)
			s.data = b.Bytes()
		}},
		{"notes over several lines, delimiters at the ends", func(s *sheet) {
			s.ln("Time;PPFD;Remark;")
			for i := range s.n {
				note := ""
				if i%60 == 11 {
					note = "\"lamp 3; flickers,\nsee book 2026-01-01 00:00\""
				}
				s.f("%s;%s;%s;", s.at(i).Format("2006-01-02 15:04:05"), s.v("ppfd", i), note)
			}
		}},
	}
}

func TestRound3(t *testing.T) { playRound(t, round3(), round3Contents(), 70) }
