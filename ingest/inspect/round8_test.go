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
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

func round8Contents() []sheet {
	return []sheet{
		{loc: place("Europe/Amsterdam"), start: time.Date(2025, 10, 25, 0, 0, 0, 0, place("Europe/Amsterdam")),
			step: 15 * time.Minute, n: 400}, // clocks go back
		{loc: place("America/New_York"), start: time.Date(2026, 2, 2, 7, 30, 0, 0, place("America/New_York")),
			step: 10 * time.Minute, n: 450}, // no day above 12
		{loc: place("Pacific/Auckland"), start: time.Date(2025, 12, 29, 0, 0, 0, 0, place("Pacific/Auckland")), step: time.Hour,
			n: 240}, // a new year
	}
}

// row writes the values of channels of row i, parted by sep.
func (s *sheet) row(sep string, i int, channels ...string) string {
	cells := make([]string, len(channels))
	for k, ch := range channels {
		cells[k] = s.v(ch, i)
	}
	return strings.Join(cells, sep)
}

// rowComma is row with decimal commas.
func (s *sheet) rowComma(sep string, i int, channels ...string) string {
	cells := make([]string, len(channels))
	for k, ch := range channels {
		cells[k] = decComma(s.v(ch, i))
	}
	return strings.Join(cells, sep)
}

// quietDays moves the content to days on which no clock is changed.
func (s *sheet) quietDays() {
	y, m, d := s.start.In(s.loc).Date()
	s.start, s.step, s.n = time.Date(y, m, d, 0, 0, 0, 0, s.loc).AddDate(0, 0, 70), time.Hour, 24*12
}

// asked marks a layout that may as well be asked about.
func asked(l strange) strange {
	return strange{l.name, func(s *sheet) { s.ask = true; l.write(s) }}
}

// refusing marks a layout that cannot be read.
func refusing(l strange) strange {
	return strange{l.name, func(s *sheet) { s.refuse = true; l.write(s) }}
}

const isoLocal = "2006-01-02 15:04:05"

func round8() []strange { return append(round8Plain(), append(round8Odd(), round8Clocks()...)...) }

func round8Plain() []strange {
	raw := func(v string) json.RawMessage { return json.RawMessage(v) }
	return []strange{
		{"points with a key table above and an end line", func(s *sheet) {
			s.ans.Order = "mdy"
			s.ln(`"Key            Name:Suffix                                Trend Definitions Used"`)
			s.ln(`"Point_1:","HALL2.BAY4.PAR","","15 minutes"`)
			s.ln(`"Point_2:","HALL2.BAY4.RMT","","15 minutes"`)
			s.ln(`"Time Interval:","15 Minutes"`)
			s.ln("")
			s.ln(`"<>Date","Time","Point_1","Point_2"`)
			for i := range s.n {
				s.f(`"%s","%s","%s","%s"`, s.at(i).Format("1/2/2006"), s.at(i).Format("15:04:05"), s.v("ppfd", i), s.v("temp", i))
			}
			s.ln(`" ******************************** End of Report *********************************"`)
		}},
		{"compartments over quantities over units", func(s *sheet) {
			s.ans.Order = "dmy"
			s.ln("Datum tijd;Afdeling 1;;;Afdeling 2;;")
			s.ln(";PAR;Temp;RV;PAR;Temp;RV")
			s.ln(";µmol/m²/s;°C;%;µmol/m²/s;°C;%")
			for i := range s.n {
				s.ln(s.at(i).Format("02-01-2006 15:04;"), s.rowComma(";", i, "ppfd#1", "temp#1", "rh#1", "ppfd#2", "temp#2",
					"rh#2"))
			}
		}},
		lineByLine("a status word in hexadecimal", "Time;Status;PAR;Temp", "", func(s *sheet, i int) string {
			return s.at(i).Format(isoLocal) + fmt.Sprintf(";0x%04X;", 0x10+i%3) + s.row(";", i, "ppfd", "temp")
		}),
		lineByLine("seconds since 1970 with decimals", "t,par,rh", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%d.%03d,", s.at(i).Unix(), 0) + s.row(",", i, "ppfd", "rh")
		}),
		lineByLine("the half of the day before the clock in Korean", "측정시각,조도(lx),온도(℃)", "", func(s *sheet, i int) string {
			half := map[bool]string{true: "오전", false: "오후"}[s.at(i).Hour() < 12]
			return s.at(i).Format("2006-01-02 ") + half + s.at(i).Format(" 3:04:05,") + s.row(",", i, "lux", "temp")
		}),
		lineByLine("one letter for the half of the day", "Date\tTime\tPPFD\tRH", "mdy", func(s *sheet, i int) string {
			return s.at(i).Format("01/02/06\t03:04") + map[bool]string{true: "a", false: "p"}[s.at(i).Hour() < 12] + "\t" +
				s.row("\t", i, "ppfd", "rh")
		}),
		lineByLine("remarks between the rows", "# bay 4\ntime,ppfd,temp", "", func(s *sheet, i int) string {
			note := ""
			if i%90 == 40 {
				note = "# battery changed, see book\n"
			}
			return note + s.at(i).Format(isoLocal) + "," + s.row(",", i, "ppfd", "temp")
		}),
		{"values with their units in objects", func(s *sheet) {
			s.file = "values.jsonl"
			for i := range s.n {
				s.f(`{"time":"%s","par":{"value":%s,"unit":"umol/m2/s"},"air":{"value":%s,"unit":"Cel"}}`,
					s.at(i).Format("2006-01-02T15:04:05-07:00"), s.v("ppfd", i), s.v("temp", i))
			}
		}},
		{"uplinks with gateways that have clocks of their own", func(s *sheet) {
			s.file = "events.jsonl"
			for i := range s.n {
				at := s.at(i).UTC()
				s.f(`{"deduplicationId":"%08x-0000","time":"%s","deviceInfo":{"deviceName":"bay-4","devEui":"0102030405060708"},"fCnt":%d,"fPort":2,"object":{"ppfd":%s,"temperature":%s},"rxInfo":[{"gatewayId":"00aa","gwTime":"%s","rssi":-97,"snr":7.5},{"gatewayId":"00ab","gwTime":"%s","rssi":-101,"snr":2.25}],"txInfo":{"frequency":868100000}}`,
					i*7919, at.Format("2006-01-02T15:04:05.000000+00:00"), 210+i, s.v("ppfd", i), s.v("temp", i),
					at.Add(2*time.Second).Format(time.RFC3339), at.Add(3*time.Second).Format(time.RFC3339))
			}
		}},
		lineByLine("a plug whose counter starts anew each day", "Date & time,Power (W),Energy today (Wh)", "",
			func(s *sheet, i int) string {
				at := s.at(i)
				return at.Format("2006-01-02 15:04,") + s.v("watt", i) + "," + s.note("today", i,
					strconv.Itoa(at.Hour()*250+at.Minute()*4))
			}),
		lineByLine("pulses that go round at 65536", "time;pulses;volt", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + ";" + s.note("pulses", i, strconv.Itoa((64000+i*37)%65536)) + ";" +
				s.v("volt", i)
		}),
		{"separators at the end of the rows, none in the header", func(s *sheet) {
			s.ln("Time;PPFD;Temp")
			for i := range s.n {
				s.ln(s.at(i).Format(isoLocal), ";", s.row(";", i, "ppfd", "temp"), ";")
			}
		}},
		asked(lineByLine("names of rows, without a name of their column", `"time","ppfd","temp"`, "", func(s *sheet, i int) string {
			return fmt.Sprintf(`"%d","%s",%s`, i+1, s.at(i).Format(isoLocal), s.row(",", i, "ppfd", "temp"))
		})),
		lineByLine("names on two lines in quotes", "\"Date and\ntime\";\"PAR\n(µmol/m²/s)\";\"Air\n(°C)\"", "",
			func(s *sheet, i int) string {
				return s.at(i).Format("2006-01-02 15:04;") + s.rowComma(";", i, "ppfd", "temp")
			}),
		{"UTF-16, big end first, with its mark", func(s *sheet) {
			s.ans.Order = "dmy"
			s.ln("Datum;Zeit;PAR [µmol/m²/s];Temperatur [°C]\r")
			for i := range s.n {
				s.ln(s.at(i).Format("02.01.2006;15:04:05;"), s.rowComma(";", i, "ppfd", "temp"), "\r")
			}
			s.data, _ = unicode.UTF16(unicode.BigEndian, unicode.UseBOM).NewEncoder().Bytes([]byte(s.b.String()))
		}},
		asked(strange{"an encoding of the eighties", func(s *sheet) {
			s.ans.Order = "dmy"
			s.ln("Datum;Uhrzeit;Beleuchtungsstärke;Temperatur (°C)")
			for i := range s.n {
				s.ln(s.at(i).Format("02.01.2006;15:04;"), s.rowComma(";", i, "lux", "temp"))
			}
			s.data, _ = charmap.CodePage850.NewEncoder().Bytes([]byte(s.b.String()))
		}}),
		lineByLine("narrow blanks part the thousands", "Date;Éclairement (lx);Index (kWh)", "dmy", func(s *sheet, i int) string {
			return s.at(i).Format("02/01/2006 15:04;") + grouped(s.v("lux", i), "\u202f", ",") + ";" +
				grouped(s.v("kwh", i), "\u202f", ",")
		}),
		lineByLine("abbreviations of zones that change", "timestamp,ppfd,volt", "", func(s *sheet, i int) string {
			return s.at(i).Format("2006-01-02 15:04:05 MST,") + s.row(",", i, "ppfd", "volt")
		}),
		lineByLine("digits, a T and an offset", "stamp;ppfd", "", func(s *sheet, i int) string {
			return s.at(i).Format("20060102T150405-0700;") + s.v("ppfd", i)
		}),
		{"the newest part of a ring first", func(s *sheet) {
			s.ln("time,ppfd,temp")
			for k := range s.n {
				i := (k + s.n/3) % s.n
				s.ln(s.at(i).UTC().Format(time.RFC3339), ",", s.row(",", i, "ppfd", "temp"))
			}
		}},
		{"two exports that overlap in one file", func(s *sheet) {
			for _, part := range [][2]int{{0, s.n * 2 / 3}, {s.n / 3, s.n}} {
				s.ln("time;ppfd;temp")
				for i := part[0]; i < part[1]; i++ {
					s.ln(s.at(i).UTC().Format(time.RFC3339), ";", s.row(";", i, "ppfd", "temp"))
				}
			}
		}},
		lineByLine("plus and zeros before the numbers", "time,out,ppfd", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format("2006-01-02T15:04:05Z,") + fmt.Sprintf("%+07.1f,%+08.1f", asNumber(s.v("out", i)),
				asNumber(s.v("ppfd", i)))
		}),
		asked(strange{"features with places", func(s *sheet) {
			s.file = "bays.geojson"
			var all []any
			for i := range s.n {
				all = append(all, map[string]any{"type": "Feature", "geometry": map[string]any{"type": "Point",
					"coordinates": []float64{4.31, 52.02}}, "properties": map[string]any{
					"time": s.at(i).UTC().Format(time.RFC3339), "ppfd": raw(s.v("ppfd", i)), "rh": raw(s.v("rh", i))}})
			}
			s.data, _ = json.Marshal(map[string]any{"type": "FeatureCollection", "features": all})
		}}),
		asked(strange{"dates in functions", func(s *sheet) {
			s.file = "odata.json"
			var all []any
			for i := range s.n {
				all = append(all, map[string]any{"Stamp": fmt.Sprintf("/Date(%d)/", s.at(i).UnixMilli()),
					"Ppfd": raw(s.v("ppfd", i))})
			}
			s.data, _ = json.Marshal(map[string]any{"d": map[string]any{"results": all}})
		}}),
		asked(strange{"documents with typed values", func(s *sheet) {
			s.file = "collection.json"
			for i := range s.n {
				s.f(`{"_id":{"$oid":"65f0a1b2c3d4e5f6a7%06x"},"ts":{"$date":"%s"},"ppfd":{"$numberDouble":"%s"},"node":"n4"}`, i,
					s.at(i).UTC().Format("2006-01-02T15:04:05.000Z"), s.v("ppfd", i))
			}
		}}),
		asked(lineByLine("a document in a cell", "time,device,payload", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + fmt.Sprintf(`,bay-4,"{""ppfd"":%s,""temp"":%s}"`, s.v("ppfd", i),
				s.v("temp", i))
		})),
		{"a table of a text page", func(s *sheet) {
			s.file = "table.md"
			s.ln("| time | ppfd | volt |")
			s.ln("|:-----|-----:|-----:|")
			for i := range s.n {
				s.f("| %s | %s | %s |", s.at(i).Format(isoLocal), s.v("ppfd", i), s.v("volt", i))
			}
		}},
		{"names above a line of ids", func(s *sheet) {
			s.ans.Order = "dmy"
			s.ln("Messstelle;Halle 1 PAR;Halle 2 PAR")
			s.ln("ID;100417;100418")
			s.ln("Zeitstempel;µmol/(m²·s);µmol/(m²·s)")
			for i := range s.n {
				s.ln(s.at(i).Format("02.01.2006 15:04:05;"), s.rowComma(";", i, "ppfd#1", "ppfd#2"))
			}
		}},
		asked(lineByLine("events among the rows", "time;kind;par;temp", "", func(s *sheet, i int) string {
			event := ""
			if i%70 == 33 {
				event = s.at(i).Add(3*time.Minute).Format(isoLocal) + ";EVENT;Door open\n"
			}
			return event + s.at(i).Format(isoLocal) + ";DATA;" + s.row(";", i, "ppfd", "temp")
		})),
		{"a console of a database of points", func(s *sheet) {
			s.file = "console.txt"
			s.ln("name: light")
			s.ln("time                ppfd  temp")
			s.ln("----                ----  ----")
			for i := range s.n {
				s.f("%d %-5s %-5s", s.at(i).UnixNano(), s.v("ppfd", i), s.v("temp", i))
			}
		}},
		asked(strange{"two rooms on two sheets", func(s *sheet) {
			s.file = "rooms.xlsx"
			x := excelize.NewFile()
			x.SetSheetName("Sheet1", "Room 1")
			x.NewSheet("Room 2")
			for k, room := range []string{"Room 1", "Room 2"} {
				x.SetSheetRow(room, "A1", &[]any{"Time", "PPFD", "Temp"})
				for i := range s.n {
					x.SetSheetRow(room, fmt.Sprintf("A%d", i+2), &[]any{s.at(i).Format(isoLocal),
						asNumber(s.v(fmt.Sprintf("ppfd#%d", k), i)), asNumber(s.v(fmt.Sprintf("temp#%d", k), i))})
				}
			}
			var b bytes.Buffer
			x.Write(&b)
			s.data = b.Bytes()
		}}),
	}
}

func TestRound8(t *testing.T) { playRound(t, round8(), round8Contents(), 255) }
