package inspect

import (
	"slices"
	"strings"

	"wane/ingest/decode/stamp"
)

// clockOfDay takes a time of day at the tokens in hand.
func (d *deriver) clockOfDay() bool {
	k := 0
	half := isHalf(d.at(0), d.at(1))
	before := half > 0
	if before {
		if k = half; d.at(k).kind == ' ' {
			k++
		}
	}
	h := d.at(k)
	if h.kind != 'd' {
		return false
	}
	pattern, n := d.hands(k)
	if n == 0 {
		return false
	}
	k += n
	if before {
		d.parts = append(d.parts, "a")
		if d.at(half).kind == ' ' {
			d.parts = append(d.parts, " ")
		}
	} else {
		gap := 0
		if d.at(k).kind == ' ' {
			gap = 1
		}
		if half = isHalf(d.at(k+gap), d.at(k+gap+1)); half > 0 {
			pattern += strings.Repeat(" ", gap) + "a"
			k += gap + half
			for _, more := range []rune{'.', ' ', 'w', '.'} { // "p. m."
				if d.at(k).kind != more || more == 'w' && !strings.EqualFold(d.at(k).text, "m") || more == ' ' &&
					!strings.EqualFold(d.at(k+1).text, "m") {
					if more == ' ' {
						continue
					}
					break
				}
				k++
			}
		}
	}
	if half > 0 {
		pattern = strings.ReplaceAll(pattern, "H", "h")
	}
	d.parts = append(d.parts, pattern)
	d.i += k
	d.clock = true
	return true
}

// isHalf counts the tokens of a word for a half of the day, 0 for another word.
func isHalf(t, next token) int {
	if t.kind != 'w' {
		return 0
	}
	f, err := stamp.Compile("yyyyMMdd h a")
	if err != nil {
		return 0
	}
	p := stamp.NewParser(f, stamp.UTC)
	if _, bad := p.Parse([]byte("20000101 1 " + t.text)); bad == nil {
		return 1
	}
	if next.kind == '.' && len(t.text) == 1 && strings.ContainsAny(t.text, "aApP") || next.kind == '.' &&
		slices.Contains([]string{"π", "μ"}, t.text) {
		return 1 // a.m., p. m.
	}
	return 0
}

// hands takes hour, minute, second and fraction k tokens ahead.
func (d *deriver) hands(k int) (pattern string, n int) {
	h, m := d.at(k), d.at(k+2)
	sep := d.at(k + 1)
	alone := d.dates != nil || d.i == 0 // after the date, or a clock by itself
	two := func(t token) bool { return t.kind == 'd' && len(t.text) == 2 && intOf(t) < 60 }
	bare := func(t token) bool { return t.kind == 'd' && len(t.text) <= 2 && intOf(t) < 60 }
	hour := padded("H", h)
	switch {
	case sep.text == "時" && two(m) && d.at(k+3).text == "分":
		if sec := d.at(k + 4); two(sec) && d.at(k+5).text == "秒" {
			return hour + "'時'mm'分'ss'秒'", 6
		}
		return hour + "'時'mm'分'", 4
	case len(h.text) <= 2 && intOf(h) <= 24 && two(m) &&
		(sep.kind == ':' || alone && (sep.kind == '.' || sep.kind == '-' && d.at(k+3).kind == '-' && two(d.at(k+4)) ||
			sep.kind == '_' || strings.EqualFold(sep.text, "h"))):
		lit := sep.text
		if sep.kind == 'w' {
			lit = "'" + sep.text + "'"
		}
		pattern, n = hour+lit+"mm", 3
		if d.at(k+3).text == sep.text && two(d.at(k+4)) {
			pattern, n = pattern+lit+"ss", 5
			if f := d.at(k + 5); (f.kind == '.' || f.kind == ',' || f.kind == ':' && len(d.at(k+6).text) == 3) && d.at(k+6).kind == 'd' &&
				(sep.kind == ':' || len(d.at(k+6).text) >= 3) {
				pattern, n = pattern+f.text+"S", 7
			}
		}
		return pattern, n
	case len(h.text) <= 2 && intOf(h) <= 24 && sep.kind == ':' && bare(m) && d.at(k+3).kind == ':' && bare(d.at(k+4)): // 9:5:30
		return hour + ":" + padded("m", m) + ":" + padded("s", d.at(k+4)), 5
	case d.dates == nil || len(d.parts) == 0:
		return "", 0
	case len(h.text) == 6 && intOf(h) < 250000:
		return "HHmmss", 1
	case len(h.text) == 4 || len(h.text) == 3:
		if intOf(h) <= 2400 && intOf(h)%100 < 60 {
			return "HHmm", 1
		}
	case len(h.text) <= 2 && intOf(h) <= 24 && d.parts[len(d.parts)-1] != "\x00":
		if next := d.at(k + 1); next.kind == 0 || next.kind == ' ' || next.kind == '-' {
			return hour, 1
		}
	}
	return "", 0
}

// zoneOf takes an offset or a zone's abbreviation behind the clock.
func (d *deriver) zoneOf() bool {
	t := d.at(0)
	if last := d.parts[len(d.parts)-1]; (last == "H" || last == "HH") && (t.kind == '-' || t.kind == '+') {
		return false // 14-15 is an hour's beginning and end
	}
	signed := func(k int) (n int) { // tokens of +01, +0100 or +01:00
		if s := d.at(k); s.kind != '+' && s.kind != '-' || d.at(k+1).kind != 'd' {
			return 0
		}
		switch len(d.at(k + 1).text) {
		case 4:
			return 2
		case 1, 2:
			if d.at(k+2).kind == ':' && len(d.at(k+3).text) == 2 {
				return 4
			}
			return 2
		}
		return 0
	}
	switch {
	case t.kind == '+' || t.kind == '-' && !d.interval:
		n := signed(0)
		if n == 0 || len(d.at(1).text) == 1 {
			return false
		}
		d.parts = append(d.parts, "XXX")
		d.i += n
	case t.kind == 'w' && (t.text == "Z" || t.text == "z"):
		d.parts = append(d.parts, "XXX")
		d.i++
	case t.kind == 'w' && stamp.IsZoneWord(t.text) && t.text == strings.ToUpper(t.text):
		d.parts = append(d.parts, "z")
		d.i += 1 + signed(1)
	case t.kind == 'w' && len(t.text) >= 3 && len(t.text) <= 5 && t.text == strings.ToUpper(t.text) && d.at(1).kind == 0:
		d.parts = append(d.parts, "*") // it may be a zone, but means more than one
		d.i++
	default:
		return false
	}
	d.zone = true
	return true
}
