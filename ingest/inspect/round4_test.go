package inspect

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"
)

func round4Contents() []sheet {
	return []sheet{
		{loc: place("Europe/Madrid"), start: time.Date(2025, 3, 28, 0, 0, 0, 0, place("Europe/Madrid")),
			step: 15 * time.Minute, n: 400}, // clocks go forward
		{loc: place("America/Denver"), start: time.Date(2025, 6, 2, 6, 0, 0, 0, place("America/Denver")),
			step: 10 * time.Minute, n: 500}, // no day above 12
		{loc: place("Asia/Singapore"), start: time.Date(2024, 2, 27, 0, 0, 0, 0, place("Asia/Singapore")), step: time.Hour,
			n: 300}, // a leap day
	}
}

func round4() []strange {
	refused := func(l strange) strange {
		return strange{l.name, func(s *sheet) { s.refuse = true; l.write(s) }}
	}
	return []strange{
		lineByLine("a blank column in the middle", "Date;Time;;Zone 1;Zone 2", "dmy", func(s *sheet, i int) string {
			return fmt.Sprintf("%s;;%s;%s", s.at(i).Format("02.01.2006;15:04:05"), decComma(s.v("temp#1", i)),
				decComma(s.v("temp#2", i)))
		}),
		lineByLine("units in a second line, quoted", "\"Timestamp\",\"CH1\",\"CH2\"\n\"\",\"°C\",\"%RH\"", "",
			func(s *sheet, i int) string {
				return fmt.Sprintf(`"%s","%s","%s"`, s.at(i).Format("2006-01-02 15:04"), s.v("temp", i), s.v("rh", i))
			}),
		lineByLine("a recorder's list with its title", "Model:LX-4\nSerial:000417\nSampling:15min\n\nNo.,Date Time,CH1(℃),CH2(%RH)", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%d,%s,%s,%s", i+1, s.at(i).Format("2006/01/02 15:04:05"), s.v("temp", i), s.v("rh", i))
		}),
		lineByLine("a state in words", "Index;Date;Time;Lux;State", "mdy", func(s *sheet, i int) string {
			return fmt.Sprintf("%d;%s;%s;%s", i, s.at(i).Format("01/02/2006;15:04"), s.v("lux", i),
				[]string{"OK", "OK", "OK", "LOW BATT"}[i%4])
		}),
		{"registers by address", func(s *sheet) {
			s.file = "registers.json"
			var all []any
			for i := range s.n {
				for k, ch := range []string{"volt", "amp"} {
					all = append(all, map[string]any{"addr": 40001 + 2*k, "name": []string{"U_L1", "I_L1"}[k],
						"value": json.RawMessage(s.v(ch, i)), "ts": s.at(i).Unix()})
				}
			}
			s.data, _ = json.Marshal(all)
		}},
		{"uplinks of a radio network", func(s *sheet) {
			s.file = "uplinks.jsonl"
			for i := range s.n {
				s.f(`{"ids":{"device_id":"bay-4","dev_eui":"70B3D57ED0000417"},"received_at":"%s","uplink":{"f_port":2,"f_cnt":%d,"frm_payload":"AQID","decoded":{"par":%s,"temp_c":%s}}}`,
					s.at(i).UTC().Format("2006-01-02T15:04:05.000000000Z"), 1042+i, s.v("ppfd", i), s.v("temp", i))
			}
		}},
		lineByLine("statistics by the start of the hour", "statistic_id,unit,start,mean,min,max", "",
			func(s *sheet, i int) string {
				return fmt.Sprintf("sensor.par_4,µmol/m²/s,%d.0,%s,%s,%s", s.at(i).Unix(), s.v("ppfd#mean", i), s.v("ppfd#min", i),
					s.v("ppfd#max", i))
			}),
		lineByLine("a line of column formats", "# retrieved by hand\nagency\tsite_no\tdatetime\ttz\tpar\tpar_cd\n5s\t15s\t20d\t6s\t14n\t10s", "", func(s *sheet, i int) string {
			return fmt.Sprintf("XX\t00417\t%s\tUTC\t%s\tA", s.at(i).UTC().Format("2006-01-02 15:04"), s.v("ppfd", i))
		}),
		{"hours to 24 and minute 60", func(s *sheet) {
			s.hourly()
			s.ask, s.ans.Interval = true, "begin"
			for i := range s.n {
				at := s.at(i)
				s.f("%d,%d,%d,%d,60,?9?9?9,%s,%s", at.Year(), at.Month(), at.Day(), at.Hour()+1, s.v("temp", i), s.v("rh", i))
			}
		}},
		{"hours at their end, the last one 24:00", func(s *sheet) {
			s.hourly()
			s.ask, s.ans.Order = true, "mdy"
			s.ln("Date (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2)")
			for i := range s.n {
				at := s.at(i)
				end := at.Add(time.Hour)
				s.f("%s,%02d:00,%s", at.Format("01/02/2006"), at.Hour()+1, s.vAt("watt", i, end))
			}
		}},
		lineByLine("ordinal days in words", "When;PPFD", "", func(s *sheet, i int) string {
			at := s.at(i)
			th := "th"
			if d := at.Day(); d != 11 && d != 12 && d != 13 && d%10 > 0 && d%10 < 4 {
				th = []string{"st", "nd", "rd"}[d%10-1]
			}
			return at.Format("January 2") + th + at.Format(", 2006 3:04 PM;") + s.v("ppfd", i)
		}),
		lineByLine("stamps as mail has them", "date\tppfd\tvolt", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format("Mon, 02 Jan 2006 15:04:05 GMT\t") + s.v("ppfd", i) + "\t" + s.v("volt", i)
		}),
		lineByLine("the year behind the zone", "stamp;ppfd", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format("Mon Jan _2 15:04:05 UTC 2006;") + s.v("ppfd", i)
		}),
		lineByLine("a colon between date and clock", "time,ppfd", "", func(s *sheet, i int) string {
			return s.at(i).Format("[02/Jan/2006:15:04:05 -0700],") + s.v("ppfd", i)
		}),
		lineByLine("milliseconds behind a comma and an offset", "zeit;ppfd;temp", "", func(s *sheet, i int) string {
			return s.at(i).Format("2006-01-02T15:04:05,000-0700;") + decComma(s.v("ppfd", i)) + ";" + decComma(s.v("temp", i))
		}),
		lineByLine("spreadsheet days with a comma", "Datum;Leistung;Spannung", "", func(s *sheet, i int) string {
			_, off := s.at(i).Zone()
			days := float64(s.at(i).Unix()+int64(off))/86400 + 25569
			return decComma(strconv.FormatFloat(days, 'f', 10, 64)) + ";" + s.v("watt", i) + ";" + decComma(s.v("volt", i))
		}),
		refused(lineByLine("days of another system", "datenum,ppfd", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%.6f,%s", float64(s.at(i).Unix())/86400+719529, s.v("ppfd", i))
		})),
		refused(lineByLine("seconds since 2001", "time,ppfd", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%d,%s", s.at(i).Unix()-978307200, s.v("ppfd", i))
		})),
		refused(lineByLine("seconds since 1904", "time;ppfd", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%d;%s", s.at(i).Unix()+2082844800, s.v("ppfd", i))
		})),
		refused(lineByLine("years with decimals", "year,ppfd", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%.8f,%s", float64(s.at(i).Year())+
				(float64(s.at(i).YearDay()-1)+float64(s.at(i).Hour()*60+s.at(i).Minute())/1440)/366, s.v("ppfd", i))
		})),
		lineByLine("on and off beside the light", "time;lamp;ppfd", "", func(s *sheet, i int) string {
			v := s.v("ppfd", i)
			return s.at(i).Format("2006-01-02 15:04;") + map[bool]string{true: "OFF", false: "ON"}[v == "0.0"] + ";" + v
		}),
		{"a meter read by hand, now and then", func(s *sheet) {
			s.ans.Order = "dmy"
			s.ln("Datum;Stand kWh;Bemerkung")
			day := s.start.In(s.loc)
			for i := range 60 {
				y, m, d := day.AddDate(0, 0, 3*i+i%3).Date()
				note := ""
				if i%17 == 3 {
					note = "Zähler getauscht?"
				}
				at := time.Date(y, m, d, 0, 0, 0, 0, s.loc)
				s.f("%s;%s;%s", at.Format("02.01.2006"), decComma(s.vAt("kwh", 40*i, at)), note)
			}
		}},
		lineByLine("two tariffs, their sum and its price", "Data e ora;F1 (kWh);F2 (kWh);Totale (kWh);Costo (€)", "dmy",
			func(s *sheet, i int) string {
				return s.at(i).Format("02/01/2006 15:04;") + strings.Join([]string{decComma(s.v("kwh#1", i)),
					decComma(s.v("kwh#2", i)), decComma(s.v("kwh#all", i)), decComma(s.v("use", i))}, ";")
			}),
		lineByLine("how long it was on", "time,on_time,ppfd", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + fmt.Sprintf(",%02d:%02d:00,", i/4%24, i%4*15) + s.v("ppfd", i)
		}),
		lineByLine("devices and their channels in the names", "time,A.ppfd,A.temp,B.ppfd,B.temp", "",
			func(s *sheet, i int) string {
				return s.at(i).UTC().Format(time.RFC3339) + "," +
					strings.Join([]string{s.v("ppfd#A", i), s.v("temp#A", i), s.v("ppfd#B", i), s.v("temp#B", i)}, ",")
			}),
	}
}

func TestRound4(t *testing.T) { playRound(t, round4(), round4Contents(), 70) }
