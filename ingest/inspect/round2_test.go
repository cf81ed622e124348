package inspect

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"
)

func round2Contents() []sheet {
	return []sheet{
		{loc: place("Europe/Lisbon"), start: time.Date(2026, 2, 2, 0, 0, 0, 0, place("Europe/Lisbon")), step: 5 * time.Minute,
			n: 900}, // no day above 12
		{loc: place("Asia/Kolkata"), start: time.Date(2025, 7, 29, 0, 0, 0, 0, place("Asia/Kolkata")), step: 30 * time.Minute,
			n: 288},
		{loc: place("Europe/Berlin"), start: time.Date(2025, 10, 24, 0, 0, 0, 0, place("Europe/Berlin")),
			step: 15 * time.Minute, n: 480}, // an hour comes twice
	}
}

// grouped writes 18123,4 as 18.123,4.
func grouped(v, group, mark string) string {
	whole, dec, has := strings.Cut(v, ".")
	if len(whole) > 3 {
		whole = whole[:len(whole)-3] + group + whole[len(whole)-3:]
	}
	if has {
		whole += mark + dec
	}
	return whole
}

func round2() []strange {
	raw := func(v string) json.RawMessage { return json.RawMessage(v) }
	return []strange{
		{"points part thousands, commas decimals, Portuguese", func(s *sheet) {
			s.ans.Order = "dmy"
			s.ln("Data Hora;Potência (W);Energia (kWh)")
			for i := range s.n {
				s.f("%s;%s;%s", s.at(i).Format("02-01-2006 15:04"), grouped(s.v("watt", i), ".", ","),
					grouped(s.v("kwh", i), ".", ","))
			}
		}},
		{"start and end time of a utility", func(s *sheet) {
			s.ask, s.ans.Interval = true, "begin"
			s.ln("Name,Hall 2")
			s.ln("Account Number,100200300")
			s.ln("Service,Electric")
			s.ln("")
			s.ln("TYPE,DATE,START TIME,END TIME,USAGE (kWh),NOTES")
			for i := range s.n {
				at := s.at(i)
				s.f("Electric usage,%s,%s,%s,%s,", at.Format("2006-01-02"), at.Format("15:04"),
					at.Add(s.step-time.Minute).Format("15:04"), s.v("use", i))
			}
		}},
		{"a feed of interval blocks", func(s *sheet) {
			s.file, s.refuse = "usage.xml", true
			s.ln(`<?xml version="1.0" encoding="UTF-8"?>`, "\n<feed><entry><content><IntervalBlock>")
			for i := range s.n {
				s.f("<IntervalReading><timePeriod><duration>%d</duration><start>%d</start></timePeriod><value>%s</value></IntervalReading>", int(s.step.Seconds()), s.at(i).Unix(), s.v("use", i))
			}
			s.ln("</IntervalBlock></content></entry></feed>")
		}},
		{"from, to, value, unit, status in German", func(s *sheet) {
			s.ask, s.ans.Interval, s.ans.Order = true, "begin", "dmy"
			s.ln("Beginn;Ende;Wert;Einheit;Status")
			for i := range s.n {
				s.f("%s;%s;%s;kWh;W", s.at(i).Format("02.01.2006 15:04"), s.at(i+1).Format("02.01.2006 15:04"),
					decComma(s.v("use", i)))
			}
		}},
		{"rows as lists, names in the first", func(s *sheet) {
			s.file = "table.json"
			rows := []any{[]any{"time", "ppfd", "volt"}}
			for i := range s.n {
				rows = append(rows, []any{s.at(i).UTC().Format(time.RFC3339), raw(s.v("ppfd", i)), raw(s.v("volt", i))})
			}
			s.data, _ = json.Marshal(rows)
		}},
		{"an object keyed by moments", func(s *sheet) {
			s.file = "readings.json"
			m := map[string]any{}
			for i := range s.n {
				m[s.at(i).UTC().Format(time.RFC3339)] = map[string]any{"ppfd": raw(s.v("ppfd", i)), "temp": raw(s.v("temp", i))}
			}
			s.data, _ = json.MarshalIndent(map[string]any{"device": "n-4", "readings": m}, "", " ")
		}},
		{"an object of channels, each a list", func(s *sheet) {
			s.file = "telemetry.json"
			m := map[string][]any{}
			for _, ch := range []string{"ppfd", "temp", "rh"} {
				for i := range s.n {
					m[ch] = append(m[ch], map[string]any{"ts": s.at(i).UnixMilli(), "value": s.v(ch, i)})
				}
			}
			s.data, _ = json.Marshal(m)
		}},
		{"observations with ids and results", func(s *sheet) {
			s.file = "Observations.json"
			var list []any
			for i := range s.n {
				list = append(list, map[string]any{"@id": 120100 + i,
					"phenomenonTime": s.at(i).UTC().Format("2006-01-02T15:04:05.000Z"), "resultTime": nil,
					"result": raw(s.v("ppfd", i))})
			}
			s.data, _ = json.MarshalIndent(map[string]any{"count": s.n, "value": list}, "", "  ")
		}},
		{"value before its moment", func(s *sheet) {
			s.file = "render.json"
			var all []any
			for _, ch := range []string{"ppfd", "volt"} {
				var points []any
				for i := range s.n {
					points = append(points, []any{raw(s.v(ch, i)), s.at(i).Unix()})
				}
				all = append(all, map[string]any{"target": "hall." + ch, "datapoints": points})
			}
			s.data, _ = json.Marshal(all)
		}},
		{"points in an object keyed by seconds", func(s *sheet) {
			s.file = "query.json"
			var all []any
			for _, ch := range []string{"ppfd#1", "ppfd#2"} {
				dps := map[string]any{}
				for i := range s.n {
					dps[strconv.FormatInt(s.at(i).Unix(), 10)] = raw(s.v(ch, i))
				}
				all = append(all, map[string]any{"metric": "ppfd", "tags": map[string]string{"bay": ch[5:]},
					"aggregateTags": []any{}, "dps": dps})
			}
			s.data, _ = json.Marshal(all)
		}},
		{"path, value and seconds between blanks", func(s *sheet) {
			s.file = "carbon.txt"
			for i := range s.n {
				s.f("hall2.bay1.ppfd %s %d", s.v("ppfd", i), s.at(i).Unix())
				s.f("hall2.bay1.volt %s %d", s.v("volt", i), s.at(i).Unix())
			}
		}},
		{"seconds with a colon, powers of ten", func(s *sheet) {
			s.file = "fetch.txt"
			s.ln("                ppfd            temp")
			s.ln("")
			for i := range s.n {
				s.f("%d: %.10e %.10e", s.at(i).Unix(), asNumber(s.v("ppfd", i)), asNumber(s.v("temp", i)))
			}
			s.f("%d: nan nan", s.at(s.n).Unix())
		}},
		{"items by number, with nanoseconds beside", func(s *sheet) {
			s.ln("itemid,clock,value,ns")
			for i := range s.n {
				s.f("28311,%d,%s,%d", s.at(i).Unix(), s.v("ppfd", i), (i*7919113)%1000000000)
				s.f("28312,%d,%s,%d", s.at(i).Unix(), s.v("volt", i), (i*6719119)%1000000000)
			}
		}},
		{"statements of a dump", func(s *sheet) {
			s.file = "dump.sql"
			for i := range s.n {
				s.f("INSERT INTO readings VALUES (%d, '%s', %s, %s);", 3000+i, s.at(i).UTC().Format("2006-01-02 15:04:05+00"),
					s.v("ppfd", i), s.v("temp", i))
			}
		}},
		{"a nameless index before the time", func(s *sheet) {
			s.ln(",timestamp,ppfd,dim")
			for i := range s.n {
				s.f("%d,%s,%s,%s", i, s.at(i).Format("2006-01-02 15:04:05"), s.v("ppfd", i), s.v("dim", i))
			}
		}},
		{"two-digit years and AM between tabs", func(s *sheet) {
			s.ans.Order = "mdy"
			s.ln("Date\tTime\tPAR (umol)\tTemp (C)")
			for i := range s.n {
				s.f("%s\t%s\t%s\t%s", s.at(i).Format("01/02/06"), s.at(i).Format("03:04 PM"), s.v("ppfd", i), s.v("temp", i))
			}
		}},
		{"a block a sensor, each under its name", func(s *sheet) {
			s.ask = true
			for _, ch := range []string{"ppfd#A", "ppfd#B"} {
				s.f("Sensor: %s", ch[5:])
				s.ln("Time,Value")
				for i := range s.n {
					s.f("%s,%s", s.at(i).UTC().Format(time.RFC3339), s.v(ch, i))
				}
				s.ln("")
			}
		}},
		{"bays over channels in two header lines", func(s *sheet) {
			s.ln(";Bay 1;;Bay 2;")
			s.ln("Time;PPFD;Temp;PPFD;Temp")
			for i := range s.n {
				s.f("%s;%s;%s;%s;%s", s.at(i).Format("2006-01-02 15:04"), s.v("ppfd#1", i), s.v("temp#1", i), s.v("ppfd#2", i),
					s.v("temp#2", i))
			}
		}},
		{"a day a line with its total, in French", func(s *sheet) {
			s.hourly()
			s.start, s.n = s.start.AddDate(0, 0, -20), 20
			s.ans.Order, s.ask = "dmy", true
			head := "Date"
			for q := range 48 {
				head += fmt.Sprintf(";%02d:%02d", q/2, q%2*30)
			}
			s.ln(head + ";Total")
			for d := range s.n {
				y, m, dd := s.start.AddDate(0, 0, d).Date()
				line := time.Date(y, m, dd, 0, 0, 0, 0, s.loc).Format("02/01/2006")
				for q := range 48 {
					line += ";" + decComma(s.vAt("use", 48*d+q, time.Date(y, m, dd, q/2, q%2*30, 0, 0, s.loc)))
				}
				s.ln(line + ";9,876")
			}
		}},
		{"hours ending in columns", func(s *sheet) {
			s.hourly()
			s.start, s.n = s.start.AddDate(0, 0, -20), 20
			s.ask, s.ans.Interval, s.ans.Order = true, "begin", "mdy"
			head := "Date"
			for h := range 24 {
				head += fmt.Sprintf(",HE%02d", h+1)
			}
			s.ln(head)
			for d := range s.n {
				y, m, dd := s.start.AddDate(0, 0, d).Date()
				line := time.Date(y, m, dd, 0, 0, 0, 0, s.loc).Format("1/2/2006")
				for h := range 24 {
					line += "," + s.vAt("use", 24*d+h, time.Date(y, m, dd, h, 0, 0, 0, s.loc))
				}
				s.ln(line)
			}
		}},
		{"week and weekday", func(s *sheet) {
			s.ask = true
			s.ln("Jahr;KW;Tag;Uhrzeit;PPFD")
			for i := range s.n {
				y, w := s.at(i).ISOWeek()
				s.f("%d;%d;%s;%s;%s", y, w, []string{"So", "Mo", "Di", "Mi", "Do", "Fr", "Sa"}[s.at(i).Weekday()],
					s.at(i).Format("15:04"), decComma(s.v("ppfd", i)))
			}
		}},
		{"sep= and formulas around the stamps", func(s *sheet) {
			s.ln("sep=;")
			s.ln("Time;PPFD;Supply")
			for i := range s.n {
				s.f(`="%s";%s;%s`, s.at(i).Format("2006-01-02 15:04"), decComma(s.v("ppfd", i)), decComma(s.v("volt", i)))
			}
		}},
		{"results, series, columns, values", func(s *sheet) {
			s.file = "influence.json"
			var rows []any
			for i := range s.n {
				rows = append(rows, []any{s.at(i).UTC().Format(time.RFC3339), "bay-1", raw(s.v("ppfd", i)), nil})
				rows = append(rows, []any{s.at(i).UTC().Format(time.RFC3339), "bay-2", raw(s.v("ppfd#2", i)),
					raw(s.v("volt#2", i))})
			}
			s.data, _ = json.Marshal(map[string]any{"results": []any{map[string]any{"statement_id": 0,
				"series": []any{map[string]any{"name": "light", "columns": []string{"time", "bay", "ppfd", "volt"},
					"values": rows}}}}})
		}},
		{"comments with the names, seconds first", func(s *sheet) {
			s.file = "card.log"
			s.ln("# firmware 2.0.1, serial 00417")
			s.ln("# epoch, ppfd, temp, battery_mV")
			for i := range s.n {
				s.f("%d, %s, %s, %d", s.at(i).Unix(), s.v("ppfd", i), s.v("temp", i),
					asInt(s.note("battery", i, strconv.Itoa(3300-i/20))))
			}
		}},
		{"the clock in a name of columns, day first", func(s *sheet) {
			s.ans.Order = "dmy"
			s.ln("Fecha y hora (hora local);Radiación PAR;Humedad relativa (%)")
			for i := range s.n {
				s.f("%s h;%s;%s", s.at(i).Format("2/1/2006 15:04"), decComma(s.v("ppfd", i)), decComma(s.v("rh", i)))
			}
		}},
	}
}

// note takes a value as the truth of row i.
func (s *sheet) note(channel string, i int, v string) string {
	if s.truth[channel] == nil {
		s.truth[channel] = map[int64]float64{}
	}
	s.truth[channel][s.at(i).UnixMicro()] = asNumber(v)
	return v
}

func asInt(v string) int { return int(asNumber(v)) }

func TestRound2(t *testing.T) { playRound(t, round2(), round2Contents(), 67) }
