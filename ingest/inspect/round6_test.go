package inspect

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"golang.org/x/text/encoding/charmap"
)

func round6Contents() []sheet {
	return []sheet{
		{loc: place("Europe/Stockholm"), start: time.Date(2026, 3, 28, 6, 0, 0, 0, place("Europe/Stockholm")),
			step: 10 * time.Minute, n: 420}, // clocks go forward
		{loc: place("America/Los_Angeles"), start: time.Date(2026, 9, 1, 0, 0, 0, 0, place("America/Los_Angeles")),
			step: time.Hour, n: 250}, // no day above 12
		{loc: place("Asia/Kathmandu"), start: time.Date(2025, 12, 30, 18, 15, 0, 0, place("Asia/Kathmandu")),
			step: 15 * time.Minute, n: 360},
	}
}

func round6() []strange {
	iso := "2006-01-02T15:04:05Z07:00"
	raw := func(v string) json.RawMessage { return json.RawMessage(v) }
	return []strange{
		lineByLine("Swedish words", "Tidpunkt;Ljus (µmol/m²/s);Temperatur;Anmärkning", "", func(s *sheet, i int) string {
			return s.at(i).Format("2006-01-02 15:04;") + decComma(s.v("ppfd", i)) + ";" + decComma(s.v("temp", i)) + ";"
		}),
		lineByLine("Finnish clocks with points", "Aika\tTeho (W)\tJännite (V)", "dmy", func(s *sheet, i int) string {
			return s.at(i).Format("2.1.2006 klo 15.04\t") + s.v("watt", i) + "\t" + decComma(s.v("volt", i))
		}),
		lineByLine("a battery and a signal beside", "Timestamp,Sensor name,PAR,Battery (%),RSSI (dBm)", "mdy",
			func(s *sheet, i int) string {
				return s.at(i).Format("01/02/2006 15:04:05,") + "Canopy 3," + s.v("ppfd", i) + "," + s.note("battery", i,
					fmt.Sprint(98-i/60)) + "," + s.note("rssi?", i, fmt.Sprint(-70-i%9))
			}),
		lineByLine("serial numbers of sensors in a column of digits", "serial,datetime,par,temp", "",
			func(s *sheet, i int) string {
				at := s.at(i).UTC().Format(iso)
				return "417001," + at + "," + s.v("ppfd#1", i) + "," + s.v("temp#1", i) + "\n417002," + at + "," + s.v("ppfd#2",
					i) +
					"," + s.v("temp#2", i)
			}),
		lineByLine("room numbers", "time;room;ppfd", "", func(s *sheet, i int) string {
			at := s.at(i).UTC().Format(iso)
			return at + ";1;" + s.v("ppfd#1", i) + "\n" + at + ";2;" + s.v("ppfd#2", i)
		}),
		{"values and their times in two lists", func(s *sheet) {
			s.file = "plot.json"
			var x, y []any
			for i := range s.n {
				x, y = append(x, s.at(i).Format("2006-01-02 15:04:05")), append(y, raw(s.v("ppfd", i)))
			}
			s.data, _ = json.Marshal(map[string]any{"data": []any{map[string]any{"name": "PAR", "type": "scatter", "x": x,
				"y": y}}, "layout": map[string]any{"title": "PAR"}})
		}},
		{"readings by sensor by name", func(s *sheet) {
			s.file = "sensors.json"
			m := map[string]any{}
			for _, id := range []string{"north", "south"} {
				var list []any
				for i := range s.n {
					list = append(list, map[string]any{"at": s.at(i).UTC().Format(iso), "par": raw(s.v("ppfd#"+id, i)), "ok": true})
				}
				m[id] = map[string]any{"location": "hall 2", "readings": list}
			}
			s.data, _ = json.Marshal(m)
		}},
		{"one object a line, keys change", func(s *sheet) {
			s.file = "mixed.jsonl"
			for i := range s.n {
				if i%3 == 0 {
					s.f(`{"ts":%d,"temp":%s}`, s.at(i).Unix(), s.v("temp", i))
				} else {
					s.f(`{"ts":%d,"ppfd":%s,"volt":%s}`, s.at(i).Unix(), s.v("ppfd", i), s.v("volt", i))
				}
			}
		}},
		{"metrics with milliseconds", func(s *sheet) {
			s.file = "scrape.prom"
			s.ln("# TYPE par gauge")
			for i := range s.n {
				s.f(`par{bay="4"} %s %d`, s.v("ppfd", i), s.at(i).UnixMilli())
			}
		}},
		lineByLine("sensor and quantity in one name", "zeit;punkt;wert", "dmy", func(s *sheet, i int) string {
			at := s.at(i).Format("02.01.2006 15:04:05")
			return at + ";Halle2.Bay1.PPFD;" + decComma(s.v("ppfd", i)) + "\n" + at + ";Halle2.Bay1.Temp;" +
				decComma(s.v("temp", i))
		}),
		lineByLine("a clock of the day in decimal hours", "date,hour,ppfd", "", func(s *sheet, i int) string {
			s.ask = true
			at := s.at(i)
			return at.Format("2006-01-02,") + fmt.Sprintf("%.4f,", float64(at.Hour())+float64(at.Minute())/60) + s.v("ppfd", i)
		}),
		lineByLine("date in one column, minutes since midnight in the next", "date;minute;ppfd", "", func(s *sheet, i int) string {
			s.ask = true
			at := s.at(i)
			return at.Format("2006-01-02;") + fmt.Sprintf("%d;", at.Hour()*60+at.Minute()) + s.v("ppfd", i)
		}),
		lineByLine("a title of dates above", "Export from 2026-01-01 00:00 to 2026-12-31 23:59\nCreated 2026-11-01 08:00\n\nTime,PPFD,RH", "", func(s *sheet, i int) string {
			return s.at(i).Format("2006-01-02 15:04:05,") + s.v("ppfd", i) + "," + s.v("rh", i)
		}),
		{"statistics behind the rows", func(s *sheet) {
			s.ln("Time;PPFD;Temp")
			for i := range s.n {
				s.f("%s;%s;%s", s.at(i).Format("2006-01-02 15:04:05"), decComma(s.v("ppfd", i)), decComma(s.v("temp", i)))
			}
			s.ln("")
			s.ln("Min;0,0;18,2")
			s.ln("Max;598,1;25,9")
			s.ln("Mittel;301,4;21,7")
		}},
		lineByLine("hash before the names, tabs, blanks in values", "#Date\tTime\tL1 (V)\tL2 (V)\tL3 (V)", "",
			func(s *sheet, i int) string {
				return s.at(i).Format("2006-01-02\t15:04:05\t") + s.v("volt#1", i) + " \t" + s.v("volt#2", i) + " \t" +
					s.v("volt#3",
						i)
			}),
		lineByLine("French words, old encoding", "", "", func(s *sheet, i int) string { return "" }),
		lineByLine("a quality of 192", "timestamp,tag,value,quality", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format("2006-01-02 15:04:05.000+00:00") + ",H2.PAR," + s.v("ppfd", i) + ",192\n" +
				s.at(i).UTC().Format("2006-01-02 15:04:05.000+00:00") + ",H2.T," + s.v("temp", i) + ",192"
		}),
		lineByLine("energy as counter and by interval", "Time;Active Import (kWh);Interval (kWh);PF", "",
			func(s *sheet, i int) string {
				return s.at(i).UTC().Format(iso) + ";" + s.v("kwh", i) + ";" + s.v("use", i) + ";" + s.note("pf?", i,
					[]string{"0.98", "0.97", "0.99"}[i%3])
			}),
		lineByLine("from and to in words between", "Periode;Verbruik (kWh)", "dmy", func(s *sheet, i int) string {
			s.ask, s.ans.Interval = true, "begin"
			return s.at(i).Format("02-01-2006 15:04") + " tot " + s.at(i+1).Format("02-01-2006 15:04") + ";" +
				decComma(s.v("use", i))
		}),
		lineByLine("day names before month names", "Date,PPFD", "", func(s *sheet, i int) string {
			return s.at(i).Format(`"Monday, January 2, 2006 3:04:05 PM",`) + s.v("ppfd", i)
		}),
		lineByLine("Spanish words for months with de", "Fecha;PPFD", "", func(s *sheet, i int) string {
			months := strings.Fields("enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre")
			at := s.at(i)
			return fmt.Sprintf("%d de %s de %d %s;%s", at.Day(), months[at.Month()-1], at.Year(), at.Format("15:04"),
				decComma(s.v("ppfd", i)))
		}),
		{"blanks for no value, wide", func(s *sheet) {
			s.ln("Date Time, GMT-08:00;Lux;Temp")
			for i := range s.n {
				a, b := "", ""
				if i%5 != 1 {
					a = s.v("lux", i)
				}
				if i%4 != 3 {
					b = s.v("temp", i)
				}
				s.f("%s;%s;%s", s.at(i).UTC().Add(-8*time.Hour).Format("2006-01-02 15:04:05"), a, b)
			}
		}},
		lineByLine("0x before the address", "addr,time,ppfd", "", func(s *sheet, i int) string {
			at := s.at(i).UTC().Format(iso)
			return "0x1A," + at + "," + s.v("ppfd#a", i) + "\n0x1B," + at + "," + s.v("ppfd#b", i)
		}),
		lineByLine("errors as numbers in a column of their own", "time,ppfd,err", "", func(s *sheet, i int) string {
			s.ask = true
			return s.at(i).UTC().Format(iso) + "," + s.v("ppfd", i) + "," + []string{"0", "0", "0", "0", "3"}[i%5]
		}),
		lineByLine("seconds and a fraction in two columns", "sec,usec,ppfd", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%d,%d,%s", s.at(i).Unix(), 0, s.v("ppfd", i))
		}),
	}
}

// round6All puts in the layout whose text is encoded.
func round6All() []strange {
	all := round6()
	for i := range all {
		if all[i].name == "French words, old encoding" {
			all[i].write = func(s *sheet) {
				s.ans.Order = "dmy"
				s.ln("Date et heure;Éclairement (lx);Température (°C);État")
				for i := range s.n {
					s.f("%s;%s;%s;arrêté", s.at(i).Format("02/01/2006 15:04"), s.v("lux", i), decComma(s.v("temp", i)))
				}
				s.data, _ = charmap.Windows1252.NewEncoder().Bytes([]byte(s.b.String()))
			}
		}
	}
	return all
}

func TestRound6(t *testing.T) { playRound(t, round6All(), round6Contents(), 69) }
