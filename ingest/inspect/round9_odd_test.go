package inspect

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"
)

// round9Odd are files that are broken, ruined or odd.
func round9Odd() []strange {
	book := func(s *sheet, x *excelize.File) {
		var b bytes.Buffer
		x.Write(&b)
		s.data = b.Bytes()
	}
	return []strange{
		asked(strange{"sentences with sums", func(s *sheet) {
			s.file = "serial.log"
			for i := range s.n {
				s.f("%s $QSENS,%s,%s*%02X", s.at(i).UTC().Format(time.RFC3339), s.v("ppfd", i), s.v("temp", i), i*37%256)
			}
		}}),
		asked(lineByLine("tenths of volts by the header", "time,Ua[0.1V],Ub[0.1V]", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + "," + strings.ReplaceAll(s.row(",", i, "volt#a", "volt#b"), ".", "")
		})),
		refusing(strange{"a snapshot of fixtures, its moment in the title", func(s *sheet) {
			s.ln("Snapshot taken ", s.at(0).Format(isoLocal))
			s.ln("Fixture;Hours;Power (W)")
			for i := range 60 {
				s.f("F%03d;%d;%d", i+1, 8000+i*13, 940+i%30)
			}
		}}),
		asked(lineByLine("quotes of another kind", "'time';'ppfd';'temp'", "", func(s *sheet, i int) string {
			return fmt.Sprintf("'%s';'%s';'%s'", s.at(i).Format(isoLocal), s.v("ppfd", i), s.v("temp", i))
		})),
		asked(strange{"zeros of a card whose power failed", func(s *sheet) {
			s.ln("time,ppfd,temp")
			for i := range s.n {
				s.ln(s.at(i).UTC().Format(time.RFC3339), ",", s.row(",", i, "ppfd", "temp"))
			}
			s.data = append([]byte(s.b.String()), make([]byte, 512)...)
		}}),
		asked(strange{"the last line is cut in a number", func(s *sheet) {
			s.ln("time,temp,ppfd")
			for i := range s.n {
				s.ln(s.at(i).UTC().Format(time.RFC3339), ",", s.row(",", i, "temp", "ppfd"))
			}
			s.b.WriteString(s.at(s.n).UTC().Format(time.RFC3339) + ",2")
			s.data = []byte(s.b.String())
		}}),
		asked(strange{"noise among the lines", func(s *sheet) {
			s.ln("time,ppfd,temp")
			for i := range s.n {
				if i%120 == 60 {
					s.ln("\x10\x7f~}#\x02,,\x1b[")
				}
				s.ln(s.at(i).UTC().Format(time.RFC3339), ",", s.row(",", i, "ppfd", "temp"))
			}
		}}),
		asked(lineByLine("hours of lamps with their minutes", "Date;Lamp hours", "dmy", func(s *sheet, i int) string {
			min := 60*1200 + int(s.step.Minutes())*i
			s.note("hours", i, fmt.Sprintf("%.9f", float64(min)/60))
			return s.at(i).Format("02.01.2006 15:04;") + fmt.Sprintf("%d:%02d", min/60, min%60)
		})),
		asked(lineByLine("hours of lamps in words", "Date,Lamp 1", "mdy", func(s *sheet, i int) string {
			min := 60*1200 + int(s.step.Minutes())*i
			s.note("hours", i, fmt.Sprintf("%.9f", float64(min)/60))
			return s.at(i).Format("01/02/2006 15:04,") + fmt.Sprintf("%dh %02dm", min/60, min%60)
		})),
		asked(lineByLine("true and false beside the light", "time,lamp,ppfd", "", func(s *sheet, i int) string {
			v := s.v("ppfd", i)
			return s.at(i).UTC().Format(time.RFC3339) + "," + strings.ToUpper(fmt.Sprint(v != "0.0")) + "," + v
		})),
		refusing(lineByLine("seconds ruined by a spreadsheet", "time,ppfd", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%.4E,", float64(s.at(i).Unix())) + s.v("ppfd", i)
		})),
		refusing(strange{"days and months swapped by a spreadsheet where it could", func(s *sheet) {
			y, m, _ := s.start.Date()
			s.start, s.step, s.n = time.Date(y, m, 5, 0, 0, 0, 0, s.loc), time.Hour, 24*20
			s.ln("Date;PPFD")
			for i := range s.n {
				if at := s.at(i); at.Day() > 12 {
					s.ln(at.Format("02/01/2006 15:04;"), decComma(s.v("ppfd", i)))
				} else {
					s.ln(at.Format("01/02/2006 15:04;"), decComma(s.v("ppfd", i)))
				}
			}
		}}),
		refusing(lineByLine("minutes and seconds, the hours hidden by a spreadsheet", "time,ppfd,temp", "", func(s *sheet, i int) string {
			return s.at(i).Format("04:05.0,") + s.row(",", i, "ppfd", "temp")
		})),
		asked(lineByLine("numbers of a moment between blanks", "", "", func(s *sheet, i int) string {
			at := s.at(i)
			return fmt.Sprintf("%02d %2d %2d %2d %2d %6s %5s", at.Year()-2000, at.Month(), at.Day(), at.Hour(), at.Minute(),
				s.v("ppfd", i), s.v("temp", i))
		})),
		asked(strange{"clocks alone, the day in the name of the file", func(s *sheet) {
			s.file = "bay4_" + s.start.Format("20060102") + ".csv"
			s.ln("Time,PPFD,Temp")
			for i := range s.n {
				if s.at(i).Day() == s.start.Day() {
					s.ln(s.at(i).Format("15:04:05,"), s.row(",", i, "ppfd", "temp"))
				}
			}
		}}),
		lineByLine("moments as a shell prints them", "date,ppfd", "", func(s *sheet, i int) string {
			s.ask = true
			return s.at(i).Format("Mon Jan _2 15:04:05 MST 2006,") + s.v("ppfd", i)
		}),
		asked(strange{"a workbook that counts from 1904", func(s *sheet) {
			s.file = "mac.xlsx"
			x := excelize.NewFile()
			x.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: ptr(true)})
			style, _ := x.NewStyle(&excelize.Style{CustomNumFmt: ptr("yyyy-mm-dd hh:mm")})
			x.SetSheetRow("Sheet1", "A1", &[]any{"Time", "PPFD"})
			for i := range s.n {
				at := s.at(i)
				wall := time.Date(at.Year(), at.Month(), at.Day(), at.Hour(), at.Minute(), 0, 0, time.UTC)
				x.SetSheetRow("Sheet1", fmt.Sprintf("A%d", i+2), &[]any{float64(wall.Unix()+2082844800) / 86400,
					asNumber(s.v("ppfd", i))})
			}
			x.SetCellStyle("Sheet1", "A2", fmt.Sprintf("A%d", s.n+1), style)
			book(s, x)
		}}),
		asked(strange{"a workbook with its data behind a sheet of words", func(s *sheet) {
			s.file = "report.xlsx"
			x := excelize.NewFile()
			x.SetSheetRow("Sheet1", "A1", &[]any{"Report of hall 2"})
			x.SetSheetRow("Sheet1", "A2", &[]any{"Made by", "the control room"})
			x.NewSheet("Data")
			x.SetSheetRow("Data", "A1", &[]any{"Time", "PPFD", "Temp"})
			for i := range s.n {
				x.SetSheetRow("Data", fmt.Sprintf("A%d", i+2), &[]any{s.at(i).Format(isoLocal), asNumber(s.v("ppfd", i)),
					asNumber(s.v("temp", i))})
			}
			book(s, x)
		}}),
		asked(strange{"a sheet a day, clocks on it", func(s *sheet) {
			s.file = "week.xlsx"
			x := excelize.NewFile()
			row := map[string]int{}
			for i := range s.n {
				d := s.at(i).Format("2006-01-02")
				if row[d] == 0 {
					x.NewSheet(d)
					x.SetSheetRow(d, "A1", &[]any{"Time", "PPFD"})
					row[d] = 1
				}
				row[d]++
				x.SetSheetRow(d, fmt.Sprintf("A%d", row[d]), &[]any{s.at(i).Format("15:04"), asNumber(s.v("ppfd", i))})
			}
			x.DeleteSheet("Sheet1")
			book(s, x)
		}}),
		asked(strange{"numbers as texts in a workbook", func(s *sheet) {
			s.file = "texts.xlsx"
			x := excelize.NewFile()
			x.SetSheetRow("Sheet1", "A1", &[]any{"Zeit", "PAR", "Temp"})
			for i := range s.n {
				x.SetSheetRow("Sheet1", fmt.Sprintf("A%d", i+2), &[]any{s.at(i).Format("2006-01-02 15:04"), decComma(s.v("ppfd", i)),
					decComma(s.v("temp", i))})
			}
			book(s, x)
		}}),
	}
}
