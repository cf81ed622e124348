package inspect

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"
)

func round9Contents() []sheet {
	return []sheet{
		{loc: place("Europe/Lisbon"), start: time.Date(2026, 3, 28, 6, 0, 0, 0, place("Europe/Lisbon")), step: 10 * time.Minute,
			n: 430}, // clocks go forward
		{loc: place("America/Sao_Paulo"), start: time.Date(2026, 5, 3, 0, 0, 0, 0, place("America/Sao_Paulo")),
			step: 15 * time.Minute, n: 380}, // no day above 12
		{loc: place("Asia/Kolkata"), start: time.Date(2024, 12, 29, 0, 0, 0, 0, place("Asia/Kolkata")), step: 30 * time.Minute,
			n: 400}, // a new year
	}
}

func round9() []strange { return append(round9Loggers(), append(round9Documents(), round9Odd()...)...) }

// round9Loggers are tables as loggers, meters, portals and controls write them.
func round9Loggers() []strange {
	return []strange{
		{"a plot's title, a number, events in columns", func(s *sheet) {
			s.ans.Order = "mdy"
			_, off := s.at(s.n - 1).Zone()
			zone := time.FixedZone("", off)
			s.f(`"Plot Title: Bay 4"`)
			s.f(`"#","Date Time, GMT%s","Intensity, Lux (LGR S/N: 10417, SEN S/N: 10417)","Coupler Attached (LGR S/N: 10417)","Host Connected (LGR S/N: 10417)","End Of File (LGR S/N: 10417)"`,
				s.at(s.n-1).Format("-07:00"))
			for i := range s.n {
				s.f(`%d,%s,%s,,,`, i+1, s.at(i).In(zone).Format("01/02/06 03:04:05 PM"), s.v("lux", i))
			}
			s.f(`%d,%s,,Logged,,`, s.n+1, s.at(s.n).In(zone).Format("01/02/06 03:04:05 PM"))
			s.f(`%d,%s,,,Logged,Logged`, s.n+2, s.at(s.n).In(zone).Format("01/02/06 03:04:05 PM"))
		}},
		lineByLine("a record, a quantum sensor, a battery", "Record,Timestamp,PAR (umol m-2 s-1),Temp (C),Battery (V)", "",
			func(s *sheet, i int) string {
				return fmt.Sprintf("%d,", 310+i) + s.at(i).Format("2006/01/02 15:04:05,") + s.row(",", i, "ppfd", "temp") + "," +
					s.note("battery", i, fmt.Sprintf("%.2f", 3.6-float64(i)/2000))
			}),
		lineByLine("a meter's many columns",
			"timestamp;V_L1;V_L2;V_L3;I_L1;I_L2;I_L3;P_total_W;F_Hz;PF;kWh_import", "", func(s *sheet, i int) string {
				return s.at(i).UTC().Format("2006-01-02T15:04:05Z;") + s.row(";", i, "volt#1", "volt#2", "volt#3", "amp#1", "amp#2",
					"amp#3", "watt") + ";" + s.note("hz", i, fmt.Sprintf("%.2f", 50+float64(i%7)/100)) + ";" +
					s.note("pf", i, fmt.Sprintf("%.2f", 0.9+float64(i%5)/100)) + ";" + s.v("kwh", i)
			}),
		lineByLine("zones of a lighting control", "Date,Time,Zone,Setpoint %,Actual %,Power W,Fault", "mdy",
			func(s *sheet, i int) string {
				var lines []string
				for _, z := range []string{"North", "South"} {
					lines = append(lines, s.at(i).Format("01/02/2006,15:04:05,")+z+","+
						s.row(",", i, "dim#set"+z, "dim#act"+z, "watt#"+z)+",None")
				}
				return strings.Join(lines, "\n")
			}),
		lineByLine("drivers by their addresses", "Timestamp;Address;Operating hours;Energy kWh;Lamp failure", "dmy",
			func(s *sheet, i int) string {
				var lines []string
				for a := range 3 {
					lines = append(lines, s.at(i).Format("02.01.2006 15:04;")+fmt.Sprintf("%d;", a)+
						s.rowComma(";", i, fmt.Sprintf("hours#%d", a), fmt.Sprintf("kwh#%d", a))+";no")
				}
				return strings.Join(lines, "\n")
			}),
		lineByLine("the time named after another zone", "Timestamp (Europe/Helsinki),PPFD,RH", "", func(s *sheet, i int) string {
			return s.at(i).In(place("Europe/Helsinki")).Format("2006-01-02 15:04:05,") + s.row(",", i, "ppfd", "rh")
		}),
		lineByLine("entries with fields and no place", "created_at,entry_id,field1,field2,latitude,longitude,elevation,status", "",
			func(s *sheet, i int) string {
				return s.at(i).UTC().Format("2006-01-02 15:04:05 UTC,") + fmt.Sprintf("%d,", 9100+i) +
					s.row(",", i, "ppfd", "temp") + ",,,,"
			}),
		lineByLine("a measurement, its tags and nanoseconds", "name,tags,time,ppfd,temp", "", func(s *sheet, i int) string {
			return fmt.Sprintf(`light,"bay=4,site=hall2",%d,`, s.at(i).UnixNano()) + s.row(",", i, "ppfd", "temp")
		}),
		asked(lineByLine("units that grow with the value", `"Time","Bay 4"`, "", func(s *sheet, i int) string {
			v := s.v("watt", i) + " W"
			if x := asNumber(s.v("watt", i)); x >= 1000 {
				v = fmt.Sprintf("%.3f kW", x/1000)
			}
			return `"` + s.at(i).Format(isoLocal) + `","` + v + `"`
		})),
		lineByLine("a series, a time, a value", "Series;Time;Value", "", func(s *sheet, i int) string {
			at := s.at(i).Format("2006-01-02T15:04:05-07:00")
			return "Bay 4 PPFD;" + at + ";" + s.v("ppfd", i) + "\nBay 4 Temp;" + at + ";" + s.v("temp", i)
		}),
		lineByLine("milliseconds and a value, no header", "", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%d,", s.at(i).UnixMilli()) + s.v("ppfd", i)
		}),
		lineByLine("a backslash and N for nothing", "ts\tppfd\ttemp\tvolt", "", func(s *sheet, i int) string {
			v := `\N`
			if i%3 == 0 {
				v = s.v("volt", i)
			}
			return s.at(i).UTC().Format("2006-01-02 15:04:05+00\t") + s.row("\t", i, "ppfd", "temp") + "\t" + v
		}),
		{"a mark of the encoding before a quoted name", func(s *sheet) {
			s.b.WriteString("\ufeff")
			s.ln(`"Time","PPFD","CO2 (ppm)"`)
			for i := range s.n {
				s.f(`"%s","%s","%s"`, s.at(i).Format("2006-01-02 15:04"), s.v("ppfd", i), s.v("co2", i))
			}
			s.data = []byte(strings.Replace(s.b.String(), "\n", "\r\n", s.n/2))
		}},
		lineByLine("phases one below the other", "Time,Phase,Voltage (V),Current (A)", "", func(s *sheet, i int) string {
			var lines []string
			for _, p := range []string{"L1", "L2", "L3"} {
				lines = append(lines, s.at(i).UTC().Format("2006-01-02 15:04:05Z,")+p+","+s.row(",", i, "volt#"+p, "amp#"+p))
			}
			return strings.Join(lines, "\n")
		}),
		lineByLine("parameters with units, German", "Zeitpunkt;Gerät;Parameter;Messwert;Einheit", "dmy", func(s *sheet, i int) string {
			at := s.at(i).Format("02.01.2006 15:04:05;")
			return at + "Halle 1;PAR;" + decComma(s.v("ppfd#1", i)) + ";µmol/m²s\n" + at + "Halle 1;Temperatur;" +
				decComma(s.v("temp#1", i)) + ";°C\n" + at + "Halle 2;PAR;" + decComma(s.v("ppfd#2", i)) + ";µmol/m²s"
		}),
		lineByLine("a logger's number, a port, a measurement", "Logger SN,Port,Measurement,Timestamp,Value,Units", "",
			func(s *sheet, i int) string {
				at := s.at(i).Format("2006-01-02 15:04:05-07:00,")
				return "10417,1,PAR," + at + s.v("ppfd#1", i) + ",umol/m2/s\n10417,2,PAR," + at + s.v("ppfd#2", i) +
					",umol/m2/s\n10418,1,PAR," + at + s.v("ppfd#3", i) + ",umol/m2/s"
			}),
		{"what is known of the columns above them", func(s *sheet) {
			s.ln("Serial number,10417,10418,10419")
			s.ln("Port,1,2,1")
			s.ln("Units,µmol/m²/s,µmol/m²/s,°C")
			s.ln("Timestamp,PAR 1,PAR 2,Air")
			for i := range s.n {
				s.ln(s.at(i).Format("2006-01-02 15:04:05,"), s.row(",", i, "ppfd#1", "ppfd#2", "temp"))
			}
		}},
		asked(lineByLine("a flag of numbers behind each value", "time,ppfd,ppfd_flag,temp,temp_flag", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + fmt.Sprintf(",%s,%d,%s,%d", s.v("ppfd", i), i%9/8, s.v("temp", i), i%11/10)
		})),
		{"statistics one below the other", func(s *sheet) {
			y, m, d := s.start.In(s.loc).Date()
			s.ln("day,stat,value")
			for i := range 90 {
				at := time.Date(y, m, d+i, 0, 0, 0, 0, s.loc)
				for _, st := range []string{"min", "avg", "max"} {
					s.ln(at.Format("2006-01-02,"), st, ",", s.vAt("hours#"+st, i, at))
				}
			}
		}},
		lineByLine("light summed over the day", "Time,PPFD (µmol/m²/s),DLI (mol/m²/d)", "", func(s *sheet, i int) string {
			return s.at(i).Format("2006-01-02 15:04:05,") + s.v("ppfd", i) + "," +
				s.note("dli", i, fmt.Sprintf("%.2f", float64(s.at(i).Hour())*1.21+float64(s.at(i).Minute())/50))
		}),
		lineByLine("numbers without their zeros", "Time\tAmp\tVolt", "", func(s *sheet, i int) string {
			v := s.note("amp", i, fmt.Sprintf(".%d", 10+i%90))
			return s.at(i).Format("2006-01-02 15:04:05\t") + v + "\t" + s.note("volt", i, strconv.Itoa(226+i%6)) + "."
		}),
		{"years, months and days by their columns, missing ones MM", func(s *sheet) {
			s.file = "station.txt"
			s.ln("#YY  MM DD hh mm   PAR  ATMP")
			s.ln("#yr  mo dy hr mn  umol  degC")
			for i := s.n - 1; i >= 0; i-- {
				p := "MM"
				if i%13 != 5 {
					p = s.v("ppfd", i)
				}
				s.f("%s %5s %5s", s.at(i).UTC().Format("2006 01 02 15 04"), p, s.v("temp", i))
			}
			s.loc = time.UTC
		}},
		lineByLine("clocks in three columns", "date,hour,minute,second,ppfd,rh", "", func(s *sheet, i int) string {
			return s.at(i).Format("2006-01-02,") + fmt.Sprintf("%d,%d,%d,", s.at(i).Hour(), s.at(i).Minute(), 0) +
				s.row(",", i, "ppfd", "rh")
		}),
		lineByLine("clocks as numbers", "YYYYMMDD,HHMM,PAR", "", func(s *sheet, i int) string {
			return s.at(i).Format("20060102,") + fmt.Sprintf("%d,", s.at(i).Hour()*100+s.at(i).Minute()) + s.v("ppfd", i)
		}),
		lineByLine("weekdays of two letters, German", "Zeit;PAR;Strom (A)", "dmy", func(s *sheet, i int) string {
			return []string{"So", "Mo", "Di", "Mi", "Do", "Fr", "Sa"}[s.at(i).Weekday()] + s.at(i).Format(" 02.01.2006 15:04;") +
				s.rowComma(";", i, "ppfd", "amp")
		}),
		asked(lineByLine("months of Poland", "Czas;PAR", "", func(s *sheet, i int) string {
			months := strings.Fields("sty lut mar kwi maj cze lip sie wrz paź lis gru")
			return fmt.Sprintf("%d %s %s;", s.at(i).Day(), months[s.at(i).Month()-1], s.at(i).Format("2006 15:04")) +
				decComma(s.v("ppfd", i))
		})),
		asked(lineByLine("months of Portugal", "Data;PAR", "", func(s *sheet, i int) string {
			months := strings.Fields("jan fev mar abr mai jun jul ago set out nov dez")
			return fmt.Sprintf("%02d-%s-%s;", s.at(i).Day(), months[s.at(i).Month()-1], s.at(i).Format("2006 15:04")) +
				decComma(s.v("ppfd", i))
		})),
		lineByLine("the zone in brackets", "time,ppfd,temp", "", func(s *sheet, i int) string {
			s.ask = true
			return s.at(i).Format("2006-01-02T15:04:05-07:00[") + s.loc.String() + "]," + s.row(",", i, "ppfd", "temp")
		}),
		lineByLine("no seconds but a Z", "time^ppfd^volt", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format("2006-01-02T15:04Z^") + s.row("^", i, "ppfd", "volt")
		}),
	}
}

// round9Documents are documents and points.
func round9Documents() []strange {
	raw := func(v string) json.RawMessage { return json.RawMessage(v) }
	return []strange{
		asked(strange{"a copy for a database", func(s *sheet) {
			s.file = "dump.sql"
			s.ln("COPY public.readings (ts, ppfd, temp) FROM stdin;")
			for i := range s.n {
				s.ln(s.at(i).UTC().Format("2006-01-02 15:04:05+00\t"), s.row("\t", i, "ppfd", "temp"))
			}
			s.ln(`\.`)
		}}),
		asked(strange{"lists without names", func(s *sheet) {
			s.file = "rows.json"
			var all []any
			for i := range s.n {
				all = append(all, []any{s.at(i).Unix(), raw(s.v("ppfd", i)), raw(s.v("temp", i))})
			}
			s.data, _ = json.Marshal(all)
		}}),
		{"a list a column", func(s *sheet) {
			s.file = "columns.json"
			m := map[string][]any{}
			for i := range s.n {
				m["ts"] = append(m["ts"], s.at(i).Unix())
				m["ppfd"] = append(m["ppfd"], raw(s.v("ppfd", i)))
				m["temp"] = append(m["temp"], raw(s.v("temp", i)))
			}
			s.data, _ = json.Marshal(m)
		}},
		refusing(strange{"a list a column, one too short", func(s *sheet) {
			s.file = "short.json"
			m := map[string][]any{}
			for i := range s.n {
				m["ts"] = append(m["ts"], s.at(i).Unix())
				m["ppfd"] = append(m["ppfd"], raw(s.v("ppfd", i)))
				if i%50 != 3 {
					m["temp"] = append(m["temp"], raw(s.v("temp", i)))
				}
			}
			s.data, _ = json.Marshal(m)
		}}),
		asked(strange{"numbers as texts with commas", func(s *sheet) {
			s.file = "texts.json"
			var all []any
			for i := range s.n {
				all = append(all, map[string]any{"Zeit": s.at(i).Format("2006-01-02T15:04:05"), "PAR": decComma(s.v("ppfd", i)),
					"Temp": decComma(s.v("temp", i))})
			}
			s.data, _ = json.Marshal(all)
		}}),
		asked(strange{"numbers as texts with units", func(s *sheet) {
			s.file = "units.jsonl"
			for i := range s.n {
				s.f(`{"t":"%s","par":"%s umol/m2/s","air":"%s C"}`, s.at(i).UTC().Format(time.RFC3339), s.v("ppfd", i), s.v("temp", i))
			}
		}}),
		{"two kinds of messages", func(s *sheet) {
			s.file = "mixed.jsonl"
			for i := range s.n {
				if i%40 == 7 {
					s.f(`{"type":"status","ts":"%s","state":"online","fw":"2.1.0"}`, s.at(i).Add(time.Minute).UTC().Format(time.RFC3339))
				}
				s.f(`{"type":"data","ts":"%s","ppfd":%s,"temp":%s}`, s.at(i).UTC().Format(time.RFC3339), s.v("ppfd", i),
					s.v("temp", i))
			}
		}},
		{"records with a base and moments before it", func(s *sheet) {
			s.file = "pack.senml"
			last := s.at(s.n - 1).Unix()
			all := []any{map[string]any{"bn": "urn:dev:bay4:", "bt": last, "n": "ppfd", "u": "umol/m2/s", "t": 0,
				"v": raw(s.v("ppfd", s.n-1))}}
			for i := range s.n - 1 {
				all = append(all, map[string]any{"n": "ppfd", "t": s.at(i).Unix() - last, "v": raw(s.v("ppfd", i))})
			}
			s.data, _ = json.Marshal(all)
		}},
		{"points with seconds", func(s *sheet) {
			s.file = "points.lp"
			for i := range s.n {
				s.f(`light,bay=4 ppfd=%s,temp=%s %d`, s.v("ppfd", i), s.v("temp", i), s.at(i).Unix())
			}
		}},
		asked(strange{"names and values behind the moment", func(s *sheet) {
			s.file = "kv.csv"
			for i := range s.n {
				s.f("%s,ppfd=%s,temp=%s", s.at(i).UTC().Format(time.RFC3339), s.v("ppfd", i), s.v("temp", i))
			}
		}}),
		asked(strange{"days that hold clocks", func(s *sheet) {
			s.file = "days.json"
			m := map[string]map[string]any{}
			for i := range s.n {
				d := s.at(i).Format("2006-01-02")
				if m[d] == nil {
					m[d] = map[string]any{}
				}
				m[d][s.at(i).Format("15:04")] = raw(s.v("ppfd", i))
			}
			s.data, _ = json.Marshal(m)
		}}),
		asked(strange{"a program's dictionaries", func(s *sheet) {
			s.file = "print.log"
			for i := range s.n {
				s.f(`{'time': '%s', 'ppfd': %s, 'ok': True}`, s.at(i).Format(isoLocal), s.v("ppfd", i))
			}
		}}),
	}
}

func TestRound9(t *testing.T) { playRound(t, round9(), round9Contents(), 180) }
