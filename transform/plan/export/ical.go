// Package export writes a relamp plan as files other programs read: a calendar
// (iCalendar, RFC 5545) and tables (CSV, RFC 4180). It returns bytes; where
// they go is the caller's business.
//
// Promises: the same plan gives the same bytes, so a calendar can be imported
// again without doubling its entries; no cell of a table starts a formula in a
// spreadsheet.
package export

import (
	"fmt"
	"hash/fnv"
	"strings"
	"time"
	"unicode/utf8"

	"wane/transform/plan"
)

// prodID names the writer, RFC 5545 section 3.7.3.
const prodID = "-//wane//relamp plan//EN"

// Calendar gives visits and order days as all-day events. site names the
// calendar and goes into each event's UID with room, day and kind, so that an
// event keeps its UID when the same plan is written again. DTSTAMP is the
// plan's AsOf: no clock is read.
func Calendar(r plan.Result, site string) []byte {
	var b strings.Builder
	line(&b, "BEGIN:VCALENDAR")
	line(&b, "VERSION:2.0")
	line(&b, "PRODID:"+prodID)
	line(&b, "CALSCALE:GREGORIAN")
	line(&b, "REFRESH-INTERVAL;VALUE=DURATION:PT12H") // RFC 7986 section 5.7: who subscribed asks again
	line(&b, "X-PUBLISHED-TTL:PT12H")                 // the same for programs older than that
	line(&b, "X-WR-CALNAME:"+escape(site+" relamp plan"))
	for _, v := range r.Visits {
		event(&b, r.AsOf, v.Date, uid(site, "visit", v.Room, v.Date, ""), visitTitle(v), visitText(v, r), v.Room)
	}
	for _, o := range r.Orders {
		if o.Quantity == 0 {
			continue
		}
		title := fmt.Sprintf("Order %d %s, %s", o.Quantity, o.LampType, o.Item)
		text := []string{fmt.Sprintf("Needed by %s: %d for planned work, %d spares, %d from the store.",
			o.NeededBy.Format(time.DateOnly), o.Planned, o.Spares, o.FromStock)}
		text = append(text, o.Notes...)
		event(&b, r.AsOf, o.OrderBy, uid(site, "order", o.LampType+"/"+o.Item, o.OrderBy, o.NeededBy.Format(time.DateOnly)),
			title, text, "")
	}
	line(&b, "END:VCALENDAR")
	return []byte(b.String())
}

func visitTitle(v plan.Visit) string {
	return "Room " + v.Room + ": " + VisitWork(v, "clean")
}

// VisitWork says a visit's work in a few words, such as "spot relamp 3, clean";
// clean is the word for a cleaning.
func VisitWork(v plan.Visit, clean string) string {
	count := map[plan.Decision]int{}
	for _, w := range v.Work {
		count[w.Do]++
	}
	var parts []string
	for _, d := range []plan.Decision{plan.GroupRelamp, plan.SpotRelamp, plan.ReplaceGear, plan.Clean} {
		switch {
		case count[d] == 0:
		case d == plan.Clean:
			parts = append(parts, clean)
		default:
			parts = append(parts, fmt.Sprintf("%s %d", d, count[d]))
		}
	}
	return strings.Join(parts, ", ")
}

func visitText(v plan.Visit, r plan.Result) []string {
	var text []string
	for _, w := range v.Work {
		text = append(text, strings.TrimSpace(fmt.Sprintf("%s %s: %s", w.Bay, w.Fixture, w.Do)))
	}
	if v.Disposal > 0 {
		text = append(text, fmt.Sprintf("Old lamps to hand over: %d.", v.Disposal))
	}
	text = append(text, v.Notes...)
	return append(text, r.Cautions...)
}

func event(b *strings.Builder, stamp, d time.Time, id, title string, text []string, where string) {
	line(b, "BEGIN:VEVENT")
	line(b, "UID:"+id)
	line(b, "DTSTAMP:"+stamp.UTC().Format("20060102T150405Z"))
	line(b, "DTSTART;VALUE=DATE:"+d.Format("20060102"))
	line(b, "DTEND;VALUE=DATE:"+d.AddDate(0, 0, 1).Format("20060102"))
	line(b, "SUMMARY:"+escape(title))
	if where != "" {
		line(b, "LOCATION:"+escape(where))
	}
	line(b, "DESCRIPTION:"+escape(strings.Join(text, "\n")))
	line(b, "TRANSP:TRANSPARENT")
	line(b, "END:VEVENT")
}

// uid is stable: FNV-1a over what names the event.
func uid(site, kind, what string, d time.Time, more string) string {
	h := fnv.New128a()
	for _, s := range []string{site, kind, what, d.Format(time.DateOnly), more} {
		h.Write([]byte(s))
		h.Write([]byte{0})
	}
	return fmt.Sprintf("%x@wane", h.Sum(nil))
}

// escape is TEXT of RFC 5545 section 3.3.11: backslash, semicolon, comma and
// newline are escaped, other control characters are dropped, bytes that are
// not UTF-8 become the replacement character.
func escape(s string) string {
	s = strings.ToValidUTF8(s, "\uFFFD")
	s = strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(s)
	var b strings.Builder
	for _, c := range s {
		switch {
		case c == '\\' || c == ';' || c == ',':
			b.WriteByte('\\')
			b.WriteRune(c)
		case c == '\n':
			b.WriteString(`\n`)
		case c < ' ' && c != '\t' || c == 0x7f:
		default:
			b.WriteRune(c)
		}
	}
	return b.String()
}

// line ends with CRLF and is folded so that none is longer than 75 octets
// (RFC 5545 section 3.1), never inside a character.
func line(b *strings.Builder, s string) {
	room := 75
	for len(s) > room {
		cut := room
		for !utf8.RuneStart(s[cut]) {
			cut--
		}
		b.WriteString(s[:cut])
		b.WriteString("\r\n ")
		s, room = s[cut:], 74
	}
	b.WriteString(s)
	b.WriteString("\r\n")
}
