package demo

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"
)

// meteredRoom has an energy meter of its own.
const meteredRoom = "LED1"

// sheetRoom has hour meters in its ballasts, read by a person every Monday.
const sheetRoom = "VEG"

// counterPlaces are the bays whose contactors have an hour meter on the
// building's panel; the other rooms have none.
var counterPlaces = []string{"F1A", "F1B", "F2A", "F2B", "LED1A", "LED1B"}

// winterTime is the clock of instruments that nobody puts forward.
var winterTime = time.FixedZone("", 3600)

// meterReading is one hour meter read by a person.
type meterReading struct {
	unix    int64
	fixture string
	hours   float64
}

// panelReading is one line of a room's energy meter.
type panelReading struct {
	unix       int64
	watts, kwh float64
}

// sheet is one finished small file of the inbox.
type sheet struct {
	name string
	data []byte
}

// counterSheets are the panel's quarterly exports: a line a day, hour meters
// side by side, twelve-hour clock without summer time.
func counterSheets(c *calendar, counters map[string][]float64) []sheet {
	var out []sheet
	var b bytes.Buffer
	quarter := ""
	done := func() {
		if quarter != "" {
			out = append(out, sheet{"hours_" + quarter + ".csv", slices.Clone(b.Bytes())})
		}
		b.Reset()
	}
	for d := range c.days {
		at := time.Unix(c.unix(c.starts[d]), 0).In(winterTime)
		date := c.moment(d, 0)
		if q := fmt.Sprintf("%d-Q%d", date.Year(), (int(date.Month())+2)/3); q != quarter {
			done()
			quarter = q
			b.WriteString("# " + invented + "\nStamp")
			for _, place := range counterPlaces {
				b.WriteString(",Hours " + place)
			}
			b.WriteByte('\n')
		}
		b.WriteString(at.Format("1/2/2006 3:04 PM"))
		for _, place := range counterPlaces {
			b.WriteByte(',')
			b.WriteString(decimal(counters[place][d], 2))
		}
		b.WriteByte('\n')
	}
	done()
	return out
}

// meterSheets are the hour meters in the ballasts of a room, read to whole
// hours on Monday mornings, a sheet a year in the plain form.
func meterSheets(c *calendar, room string, readings []meterReading) []sheet {
	var out []sheet
	year := 0
	for _, m := range readings {
		at := time.Unix(m.unix, 0).In(c.zone)
		if at.Year() != year {
			year = at.Year()
			out = append(out, sheet{fmt.Sprintf("hour-meters-%s-%d.csv", room, year), []byte("time,sensor,channel,value\n")})
		}
		s := &out[len(out)-1]
		s.data = fmt.Appendf(s.data, "%s,HM-%s,%s,%.0f\n", at.Format(time.RFC3339), room, m.fixture, math.Floor(m.hours))
	}
	return out
}

// panelSheets are the energy meter's monthly files: no header, the year, the
// day of the year, hour and minute without a colon, watts, kilowatt-hours.
func panelSheets(room string, readings []panelReading) []sheet {
	var out []sheet
	month := ""
	for _, p := range readings {
		at := time.Unix(p.unix, 0).In(winterTime)
		if m := at.Format("2006_01"); m != month {
			month = m
			out = append(out, sheet{"panel_" + room + "_" + m + ".dat", []byte("# " + invented + "\n")})
		}
		s := &out[len(out)-1]
		b := strconv.AppendInt(s.data, int64(at.Year()), 10)
		b = append(b, ',')
		b = strconv.AppendInt(b, int64(at.YearDay()), 10)
		b = append(b, ',')
		b = strconv.AppendInt(b, int64(at.Hour()*100+at.Minute()), 10)
		b = append(b, ',')
		b = strconv.AppendFloat(b, p.watts, 'f', 0, 64)
		b = append(b, ',')
		b = strconv.AppendFloat(b, p.kwh, 'f', 1, 64)
		s.data = append(b, '\n')
	}
	return out
}
