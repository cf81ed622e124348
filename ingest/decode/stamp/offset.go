package stamp

import "strings"

// offset reads Z, +01, +0100 or +01:00 as seconds east of UTC.
func offset(b []byte) (int64, bool) {
	if len(b) == 1 && (b[0] == 'Z' || b[0] == 'z') {
		return 0, true
	}
	if len(b) != 3 && len(b) != 5 && len(b) != 6 || b[0] != '+' && b[0] != '-' || len(b) == 6 && b[3] != ':' {
		return 0, false
	}
	var d [4]int64
	n := 0
	for i, c := range b[1:] {
		if i == 2 && c == ':' && len(b) == 6 {
			continue
		}
		if c < '0' || c > '9' {
			return 0, false
		}
		d[n] = int64(c - '0')
		n++
	}
	h, m := d[0]*10+d[1], d[2]*10+d[3]
	if h > 14 || m > 59 {
		return 0, false
	}
	s := h*3600 + m*60
	if b[0] == '-' {
		s = -s
	}
	return s, true
}

// offsetRun counts the bytes that can belong to an offset or a zone's name.
func offsetRun(b []byte) int {
	n := 0
	for n < len(b) && (b[n]|0x20 >= 'a' && b[n]|0x20 <= 'z' || b[n] >= '0' && b[n] <= '9' || b[n] == '+' || b[n] == '-' ||
		b[n] == ':') {
		n++
	}
	return n
}

// zoneWords are the abbreviations of zones that mean one offset, in hours. Those
// of North America are by RFC 5322, section 4.3; the others are common practice.
// CST, BST, IST and AST mean several zones in the world and are not among them.
var zoneWords = map[string]float64{
	"UTC": 0, "GMT": 0, "WET": 0, "WEST": 1, "CET": 1, "MET": 1, "MEZ": 1, "CEST": 2, "MEST": 2, "MESZ": 2, "EET": 2,
	"EEST": 3, "MSK": 3,
	"EST": -5, "EDT": -4, "CDT": -5, "MST": -7, "MDT": -6, "PST": -8, "PDT": -7, "AKST": -9, "AKDT": -8, "HST": -10,
	"AWST": 8, "JST": 9, "KST": 9, "ACST": 9.5, "ACDT": 10.5, "AEST": 10, "AEDT": 11, "NZST": 12, "NZDT": 13, "SAST": 2,
}

// zoneWord reads a zone's abbreviation, alone or with its offset behind it
// ("CEST+0200", "UTC+1"): seconds east of UTC.
func zoneWord(s string) (int64, bool) {
	n := 0
	for n < len(s) && (s[n]|0x20) >= 'a' && (s[n]|0x20) <= 'z' {
		n++
	}
	hours, known := zoneWords[strings.ToUpper(s[:n])]
	if n == len(s) {
		return int64(hours * 3600), known
	}
	off, ok := ParseOffset(strings.TrimSpace(s[n:]))
	return int64(off), ok && n > 0
}

// ZoneOffset is the offset in seconds that an abbreviation of a zone means.
func ZoneOffset(word string) (seconds int64, known bool) {
	hours, known := zoneWords[strings.ToUpper(word)]
	return int64(hours * 3600), known
}

// IsZoneWord tells whether a word is an abbreviation that means one offset.
func IsZoneWord(s string) bool { _, ok := zoneWords[strings.ToUpper(s)]; return ok }
