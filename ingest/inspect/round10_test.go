package inspect

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"
)

func round10Contents() []sheet {
	return []sheet{
		{loc: place("Europe/Berlin"), start: time.Date(2024, 10, 26, 0, 0, 0, 0, place("Europe/Berlin")), step: 15 * time.Minute,
			n: 380}, // clocks go back
		{loc: place("Australia/Sydney"), start: time.Date(2026, 4, 3, 12, 0, 0, 0, place("Australia/Sydney")),
			step: 20 * time.Minute, n: 300}, // clocks go back, no day above 12
		{loc: place("America/Halifax"), start: time.Date(2025, 12, 30, 0, 0, 0, 0, place("America/Halifax")), step: time.Hour,
			n: 260}, // a new year
	}
}

func round10() []strange { return append(round10Plain(), round10Odd()...) }

func round10Plain() []strange {
	raw := func(v string) json.RawMessage { return json.RawMessage(v) }
	return []strange{
		lineByLine("an inverter's day file", "sep=;\nVersion CSV1|Tool 2.1\n\nDate;Pac[W];E-Day[kWh];E-Total[kWh];Status[-]", "dmy",
			func(s *sheet, i int) string {
				return s.at(i).Format("02/01/2006 15:04:05;") + s.v("watt", i) + ";" +
					s.note("day", i, fmt.Sprintf("%.2f", float64(s.at(i).Hour())*0.4)) + ";" + s.v("kwh", i) + ";OK"
			}),
		lineByLine("hours read lamp by lamp", "Lamp ID,Date,Hours", "mdy", func(s *sheet, i int) string {
			y, m, d := s.start.In(s.loc).Date()
			at := time.Date(y-3, m, d+4*i, 0, 0, 0, 0, s.loc)
			var lines []string
			for _, l := range []string{"101", "102", "117"} {
				lines = append(lines, l+","+at.Format("01/02/2006")+","+s.vAt("hours#"+l, 4*i, at))
			}
			return strings.Join(lines, "\n")
		}),
		lineByLine("lamps in words between the numbers", `"Date","Time","Lamps","PAR [umol]","Tmp [C]"`, "dmy",
			func(s *sheet, i int) string {
				v := s.v("ppfd", i)
				return s.at(i).Format(`"02-01-2006","15:04",`) + map[bool]string{true: `"off"`, false: `"on"`}[v == "0.0"] + "," + v +
					"," + s.v("temp", i)
			}),
		{"sensors that hold pairs", func(s *sheet) {
			s.file = "pairs.json"
			var all []any
			for _, id := range []string{"a7", "b2"} {
				var pairs []any
				for i := range s.n {
					pairs = append(pairs, []any{s.at(i).UnixMilli(), raw(s.v("ppfd#"+id, i))})
				}
				all = append(all, map[string]any{"id": id, "samples": pairs})
			}
			s.data, _ = json.Marshal(map[string]any{"sensors": all})
		}},
		lineByLine("remarks with numbers in the last column", "Time\tPPFD\tTemp\tRemark", "", func(s *sheet, i int) string {
			note := ""
			if i%37 == 5 {
				note = fmt.Sprintf("cleaned %d lamps", i%9)
			}
			return s.at(i).Format("2006-01-02 15:04\t") + s.row("\t", i, "ppfd", "temp") + "\t" + note
		}),
		{"forty fixtures side by side", func(s *sheet) {
			head := "time"
			for f := range 40 {
				head += fmt.Sprintf(",F%03d", f+1)
			}
			s.ln(head)
			for i := range 30 {
				line := s.at(i).UTC().Format(time.RFC3339)
				for f := range 40 {
					line += "," + s.v(fmt.Sprintf("ppfd#%d", f), i)
				}
				s.ln(line)
			}
		}},
		lineByLine("bays in words under a title", "PPFD (µmol/m²/s), hall 2\nDate;Time;North;South;Door", "dmy",
			func(s *sheet, i int) string {
				return s.at(i).Format("02.01.2006;15:04;") + s.rowComma(";", i, "ppfd#n", "ppfd#s", "ppfd#d")
			}),
		lineByLine("a blank before the offset", "ts,ppfd,volt", "", func(s *sheet, i int) string {
			return s.at(i).Format("2006-01-02 15:04:05 -0700,") + s.row(",", i, "ppfd", "volt")
		}),
		lineByLine("a comma behind the date", "Zeit;PAR;Temp", "dmy", func(s *sheet, i int) string {
			return s.at(i).Format("02.01.06, 15:04;") + s.rowComma(";", i, "ppfd", "temp")
		}),
		lineByLine("letters of the month, AM at once behind", "taken\tpar\trh", "", func(s *sheet, i int) string {
			return s.at(i).Format("Jan _2 2006  3:04PM\t") + s.row("\t", i, "ppfd", "rh")
		}),
		lineByLine("two runs of digits", "stamp;par", "", func(s *sheet, i int) string {
			return s.at(i).Format("20060102 1504;") + s.v("ppfd", i)
		}),
		lineByLine("microseconds", "usec,ppfd,temp", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%d,", s.at(i).UnixMicro()) + s.row(",", i, "ppfd", "temp")
		}),
		lineByLine("seconds and the same in words", "ts,ts_iso,ppfd", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%d,", s.at(i).Unix()) + s.at(i).UTC().Format("2006-01-02T15:04:05Z,") + s.v("ppfd", i)
		}),
		lineByLine("how long the node has run", "Time,PAR,Uptime (s)", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + "," + s.v("ppfd", i) + "," +
				s.note("up", i, strconv.Itoa(i%170*int(s.step.Seconds())+i%13))
		}),
		lineByLine("a unit behind one column's numbers", "Time;PAR;Batt", "", func(s *sheet, i int) string {
			return s.at(i).Format("2006-01-02 15:04:05;") + s.v("ppfd", i) + ";" + s.note("batt", i,
				fmt.Sprintf("%.2f", 3.7-float64(i%50)/100)) + "V"
		}),
		lineByLine("per cents behind a blank", "Zeit;Feuchte;Dimmung", "dmy", func(s *sheet, i int) string {
			return s.at(i).Format("02.01.2006 15:04;") + decComma(s.v("rh", i)) + " %;" + s.v("dim", i) + " %"
		}),
		lineByLine("value, sensor, time", "value,sensor,time", "", func(s *sheet, i int) string {
			at := s.at(i).UTC().Format("2006-01-02 15:04:05Z")
			return s.v("ppfd#1", i) + ",bay1," + at + "\n" + s.v("ppfd#2", i) + ",bay2," + at
		}),
		lineByLine("no header, sensor, time, value", "", "", func(s *sheet, i int) string {
			at := s.at(i).Format(";2006-01-02 15:04;")
			return "bay4" + at + s.v("ppfd#4", i) + "\nbay5" + at + s.v("ppfd#5", i)
		}),
		lineByLine("a line that says how many", "time,ppfd,temp", "", func(s *sheet, i int) string {
			end := ""
			if i == s.n-1 {
				end = fmt.Sprintf("\n-- end of data, %d rows --", s.n)
			}
			return s.at(i).Format("2006-01-02 15:04:05,") + s.row(",", i, "ppfd", "temp") + end
		}),
		{"pages", func(s *sheet) {
			for i := range s.n {
				if i%60 == 0 {
					s.f("Report of hall 2;Page %d of %d;", i/60+1, s.n/60+1)
					s.ln("Time;PPFD;Volt")
				}
				s.ln(s.at(i).Format("2006-01-02 15:04;"), s.row(";", i, "ppfd", "volt"))
			}
		}},
		lineByLine("a blank line between the days", "Time,PPFD,RH", "", func(s *sheet, i int) string {
			gap := ""
			if i > 0 && s.at(i).Day() != s.at(i-1).Day() {
				gap = "\n"
			}
			return gap + s.at(i).Format("2006-01-02 15:04:05,") + s.row(",", i, "ppfd", "rh")
		}),
		lineByLine("counts of the converter beside", "time,par,par_raw", "", func(s *sheet, i int) string {
			v := s.v("ppfd", i)
			return s.at(i).UTC().Format(time.RFC3339) + "," + v + "," + s.note("raw", i, fmt.Sprintf("%.0f", 12+asNumber(v)*3.1))
		}),
		lineByLine("changes only", "time,point,value", "", func(s *sheet, i int) string {
			at := s.at(i).UTC().Add(time.Duration(i*i%500) * time.Second)
			p := []string{"H2/PAR", "H2/U1", "H2/T"}[i%3]
			k := map[string]string{"H2/PAR": "ppfd", "H2/U1": "volt", "H2/T": "temp"}[p]
			return at.Format("2006-01-02 15:04:05Z,") + p + "," + s.vAt(k, i, at)
		}),
		lineByLine("halves of the day over the night of the change", "Date Time,PPFD,Temp", "mdy", func(s *sheet, i int) string {
			return s.at(i).Format("01/02/2006 3:04 PM,") + s.row(",", i, "ppfd", "temp")
		}),
		{"newest first over the night of the change", func(s *sheet) {
			s.ln("Zeit;PPFD;Temp")
			for i := s.n - 1; i >= 0; i-- {
				s.ln(s.at(i).Format("2006-01-02 15:04;"), s.row(";", i, "ppfd", "temp"))
			}
		}},
		lineByLine("sensors by turns over the night of the change", "when,who,ppfd", "", func(s *sheet, i int) string {
			at := s.at(i).Format("2006-01-02 15:04:05,")
			return at + "n," + s.v("ppfd#n", i) + "\n" + at + "s," + s.v("ppfd#s", i)
		}),
		lineByLine("UTC by the name, local in another", "Time (UTC),PPFD,Temp", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format("2006-01-02 15:04:05,") + s.row(",", i, "ppfd", "temp")
		}),
		lineByLine("commas part thousands between semicolons", "Time;Light (lx);Counter (kWh)", "", func(s *sheet, i int) string {
			return s.at(i).Format("2006-01-02 15:04;") + grouped(s.v("lux", i), ",", ".") + ";" + grouped(s.v("kwh", i), ",", ".")
		}),
		lineByLine("sensors by hardware address", "addr,time,ppfd", "", func(s *sheet, i int) string {
			at := s.at(i).UTC().Format(time.RFC3339)
			return "10:22:33:44:55:66," + at + "," + s.v("ppfd#1", i) + "\n10:22:33:44:55:67," + at + "," + s.v("ppfd#2", i)
		}),
		lineByLine("sensors by address of the network", "time;host;ppfd;volt", "", func(s *sheet, i int) string {
			at := s.at(i).UTC().Format(time.RFC3339)
			return at + ";10.0.0.11;" + s.row(";", i, "ppfd#1", "volt#1") + "\n" + at + ";10.0.0.12;" + s.row(";", i, "ppfd#2",
				"volt#2")
		}),
		lineByLine("degrees Fahrenheit", "Date,Time,PAR,Temp (°F)", "mdy", func(s *sheet, i int) string {
			return s.at(i).Format("01/02/2006,15:04:05,") + s.v("ppfd", i) + "," + s.note("f", i,
				fmt.Sprintf("%.1f", 32+1.8*asNumber(s.text("temp", i, s.at(i)))))
		}),
	}
}

// round10Odd may be asked about.
func round10Odd() []strange {
	raw := func(v string) json.RawMessage { return json.RawMessage(v) }
	all := []strange{
		{"hours of a weather service", func(s *sheet) {
			s.hourly()
			s.ln("STATION;MESS_DATUM;QN_9;TT_TU;RF_TU;eor")
			for k := range s.n {
				rh := "   -999"
				if k%31 != 8 {
					rh = s.v("rh", k)
				}
				s.f("        417;%s;    3;%6s;%7s;eor", s.at(k).UTC().Format("2006010215"), s.v("temp", k), rh)
			}
			s.loc = time.UTC
		}},
		{"names over two lines", func(s *sheet) {
			s.ans.Order = "mdy"
			s.ln("\t\tTemp\tHi\tLow\tOut")
			s.ln("Date\tTime\tOut\tTemp\tTemp\tHum")
			for i := range s.n {
				s.ln(s.at(i).Format("1/02/06\t3:04"), map[bool]string{true: "a", false: "p"}[s.at(i).Hour() < 12], "\t",
					s.row("\t", i, "temp#o", "temp#h", "temp#l", "rh"))
			}
		}},
		lineByLine("directions of energy", "Meter ID,Channel,Direction,Read Time,Value,Unit,Quality", "", func(s *sheet, i int) string {
			at := s.at(i).UTC().Format("2006-01-02T15:04:05Z")
			return "417001,1,import," + at + "," + s.v("kwh#1", i) + ",kWh,A\n417001,1,export," + at + "," + s.v("kwh#2", i) +
				",kWh,A"
		}),
		{"a frame split into parts", func(s *sheet) {
			s.file = "frame.json"
			var index, data []any
			for i := range s.n {
				index, data = append(index, s.at(i).UnixMilli()), append(data, []any{raw(s.v("ppfd", i)), raw(s.v("temp", i))})
			}
			s.data, _ = json.Marshal(map[string]any{"columns": []string{"ppfd", "temp"}, "index": index, "data": data})
		}},
		{"columns that hold moments", func(s *sheet) {
			s.file = "dict.json"
			m := map[string]map[string]any{"ppfd": {}, "temp": {}}
			for i := range s.n {
				for ch := range m {
					m[ch][fmt.Sprint(s.at(i).UnixMilli())] = raw(s.v(ch, i))
				}
			}
			s.data, _ = json.Marshal(m)
		}},
		lineByLine("year and day of the year with a slash", "t;ppfd", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%d/%03d %s;", s.at(i).Year(), s.at(i).YearDay(), s.at(i).Format("15:04")) + s.v("ppfd", i)
		}),
		lineByLine("seconds with a decimal comma", "Zeit;PAR", "", func(s *sheet, i int) string {
			return fmt.Sprintf("%d,0;", s.at(i).Unix()) + decComma(s.v("ppfd", i))
		}),
		lineByLine("apostrophes before the numbers", "time,ppfd,temp", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + ",'" + s.row(",'", i, "ppfd", "temp")
		}),
		{"no header, numbers of sensors", func(s *sheet) {
			for i := range s.n {
				for _, id := range []string{"10417", "10418"} {
					s.ln(id, ",", s.at(i).UTC().Format(time.RFC3339), ",", s.v("ppfd#"+id, i))
				}
			}
		}},
		{"least and most above the rows", func(s *sheet) {
			s.ln("Time;PPFD;Temp\nMin;0,0;18,2\nMax;598,1;25,9")
			for i := range s.n {
				s.ln(s.at(i).Format("2006-01-02 15:04;"), s.rowComma(";", i, "ppfd", "temp"))
			}
		}},
		lineByLine("seconds since the start beside the time", "Time,Elapsed (s),PPFD", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + fmt.Sprintf(",%d,", i*int(s.step.Seconds())) + s.v("ppfd", i)
		}),
		lineByLine("both ends of the interval", "Interval start,Interval end,kWh", "", func(s *sheet, i int) string {
			s.ans.Interval = "begin"
			return s.at(i).Format("2006-01-02T15:04:05-07:00,") + s.at(i+1).Format("2006-01-02T15:04:05-07:00,") + s.v("use", i)
		}),
		{"winter time by an abbreviation", func(s *sheet) {
			name := map[string]string{"Europe/Berlin": "CET", "Australia/Sydney": "AEST", "America/Halifax": "AST"}[s.loc.String()]
			off := map[string]int{"CET": 1, "AEST": 10, "AST": -4}[name]
			s.f("Time (%s),PPFD,Temp", name)
			for k := range s.n {
				s.ln(s.at(k).In(time.FixedZone("", off*3600)).Format("2006-01-02 15:04:05,"), s.row(",", k, "ppfd", "temp"))
			}
		}},
		lineByLine("prices beside", "Time;Usage (kWh);Cost", "", func(s *sheet, i int) string {
			v := s.v("use", i)
			return s.at(i).Format("2006-01-02 15:04;") + decComma(v) + ";€ " + decComma(fmt.Sprintf("%.2f", asNumber(v)*0.31))
		}),
		lineByLine("what was sent, in hexadecimal", "time,payload_hex,ppfd", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + fmt.Sprintf(",%08x,", i*7919*104729%4294967291) + s.v("ppfd", i)
		}),
		lineByLine("drivers by line and number", "time;1:01;1:02;10:15", "", func(s *sheet, i int) string {
			return s.at(i).UTC().Format(time.RFC3339) + ";" + s.row(";", i, "watt#1", "watt#2", "watt#3")
		}),
		lineByLine("rows that are not valid", "time,ppfd,validity", "", func(s *sheet, i int) string {
			at := s.at(i).UTC().Format(time.RFC3339)
			if i%25 == 9 {
				return at + "," + s.text("hours", i, s.at(i)) + ",invalid"
			}
			return at + "," + s.v("ppfd", i) + ",valid"
		}),
		lineByLine("minus one for nothing", "time,ppfd,temp", "", func(s *sheet, i int) string {
			v := "-1"
			if i%19 != 4 {
				v = s.v("ppfd", i)
			}
			return s.at(i).UTC().Format(time.RFC3339) + "," + v + "," + s.v("temp", i)
		}),
		lineByLine("999.9 for nothing", "time;out;rh", "", func(s *sheet, i int) string {
			v := "999.9"
			if i%19 != 4 {
				v = s.v("out", i)
			}
			return s.at(i).UTC().Format(time.RFC3339) + ";" + v + ";" + s.v("rh", i)
		}),
		lineByLine("the year behind the clock", "t,ppfd", "", func(s *sheet, i int) string {
			return s.at(i).Format("15:04 02/01/2006,") + s.v("ppfd", i)
		}),
	}
	for i := range all {
		all[i] = asked(all[i])
	}
	return all
}

func TestRound10(t *testing.T) { playRound(t, round10(), round10Contents(), 150) }
