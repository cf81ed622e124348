package source

import (
	"regexp"
	"strings"
)

var unitSpelling = strings.NewReplacer(
	"µ", "u", "μ", "u", "²", "2", "⁻¹", "-1", "⁻²", "-2", "·", " ", "*", " ", "^", "", "°", "", "(", "", ")", "", "[", "",
	"]", "", ".", " ",
)

// unitNames are spellings of one unit that rules do not bring together.
var unitNames = map[string]string{
	"umol m-2 s-1": "umol/m2/s", "umol/m2 s": "umol/m2/s", "umol/m2-s": "umol/m2/s", "umol/s/m2": "umol/m2/s",
	"umol/s-m2":    "umol/m2/s",
	"umol s-1 m-2": "umol/m2/s", "umol/m2/sec": "umol/m2/s", "umol/m2s": "umol/m2/s", "umol/s m2": "umol/m2/s",
	"umols/m2/s":  "umol/m2/s",
	"umol m-2s-1": "umol/m2/s", "umol/m2/second": "umol/m2/s",
	"lx": "lx", "lux": "lx", "lm/m2": "lx", "lm m-2": "lx", "klx": "klx", "klux": "klx", "kilolux": "klx", "fc": "fc", "ftcd": "fc",
	"ft-c": "fc", "foot-candles": "fc", "footcandles": "fc", "foot candles": "fc",
	"v": "v", "volt": "v", "volts": "v", "vac": "v", "v ac": "v", "v~": "v",
	"a": "a", "amp": "a", "amps": "a", "ampere": "a",
	"w": "w", "watt": "w", "watts": "w",
	"h": "h", "hr": "h", "hrs": "h", "hour": "h", "hours": "h", "std": "h",
	"c": "c", "cel": "c", "degc": "c", "deg c": "c", "deg_c": "c", "celsius": "c",
	"f": "f", "degf": "f", "deg f": "f", "fahrenheit": "f",
	"%": "%", "pct": "%", "percent": "%", "%rh": "%", "% rh": "%", "%rf": "%",
	"kwh": "kwh", "kw h": "kwh", "kw-h": "kwh", "kilowatt-hours": "kwh", "kilowatt hours": "kwh", "wh": "wh", "w h": "wh",
	"watt-hours": "wh", "watt hours": "wh", "mv": "mv", "ma": "ma", "kw": "kw",
	"w/m2": "w/m2", "w m-2": "w/m2", "watt/m2": "w/m2", "watts/m2": "w/m2", "w/sqm": "w/m2",
	"1/s": "1/s", "/s": "1/s", "s-1": "1/s", "hz": "1/s",
	"mol/m2/d": "mol/m2/d", "mol m-2 d-1": "mol/m2/d", "mol/m2 d": "mol/m2/d", "mol/m2/day": "mol/m2/d",
}

var annotation = regexp.MustCompile(`\{[^{}]*\}`)

// CanonicalUnit brings the spellings of a unit together: "µmol m⁻² s⁻¹", our own
// "umol/m2/s" and UCUM's "umol/(m2.s)" are "umol/m2/s"; "Cel" of UCUM and SenML
// (RFC 8428, RFC 8798) is "c". What UCUM has in braces is a remark. A unit that it does not know comes back in lower
// case with known false.
func CanonicalUnit(s string) (unit string, known bool) {
	s = annotation.ReplaceAllString(s, "")
	s = strings.Join(strings.Fields(strings.ToLower(unitSpelling.Replace(strings.TrimSpace(s)))), " ")
	s = strings.ReplaceAll(strings.ReplaceAll(s, " /", "/"), "/ ", "/")
	if u, ok := unitNames[s]; ok {
		return u, true
	}
	if s == "umol/m2/s" {
		return s, true
	}
	return s, false
}

// SameUnit tells whether two spellings mean one unit.
func SameUnit(a, b string) bool {
	x, _ := CanonicalUnit(a)
	y, _ := CanonicalUnit(b)
	return x == y
}
