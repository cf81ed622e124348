package surveysheet

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// unread are the ways people mark a spot that was not read.
var unread = map[string]bool{"": true, "-": true, "–": true, "—": true, "x": true, "na": true, "n/a": true, "nan": true,
	"null": true, "none": true}

// missing says whether a cell marks a spot that was not read.
func missing(cell string) bool { return unread[strings.ToLower(cell)] }

// plainNumber reads a decimal number with a point: digits, one point, an
// exponent at most. Hexadecimal, underscores, "Inf" and the like are no PPFD.
func plainNumber(s string) (float64, error) {
	if s == "" || strings.Trim(s, "0123456789+-.eE") != "" {
		return 0, fmt.Errorf("%q is not a number", clip(s))
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, fmt.Errorf("%q is not a number", clip(s))
	}
	return v, nil
}

// number reads a number that may have a decimal comma. A comma before exactly
// three digits could as well part thousands (1,234), unless only a 0 stands
// before it; point and comma together could be either custom: both are refused.
func number(s string) (float64, error) {
	switch commas := strings.Count(s, ","); {
	case commas == 0:
		if whole, frac, ok := strings.Cut(s, "."); ok && len(frac) == 3 && strings.Count(s, ".") > 1 {
			return 0, fmt.Errorf("%q: %s. may part thousands; write the number without them", clip(s), clip(whole))
		}
		return plainNumber(s)
	case commas > 1:
		return 0, fmt.Errorf("%q has more than one comma; write it with a decimal point and without thousands", clip(s))
	}
	if strings.Contains(s, ".") {
		return 0, fmt.Errorf("%q has a point and a comma, and either may be the decimal sign; write it with a decimal point only", clip(s))
	}
	whole, frac, _ := strings.Cut(s, ",")
	if frac == "" || strings.Trim(frac, "0123456789") != "" {
		return 0, fmt.Errorf("%q is not a number", clip(s))
	}
	if w := strings.TrimLeft(whole, "+-"); len(frac) == 3 && w != "0" && w != "" {
		return 0, fmt.Errorf("%q may be %s.%s or %s%s; write it with a decimal point, or without the comma", clip(s), whole,
			frac, whole, frac)
	}
	return plainNumber(whole + "." + frac)
}

// ppfd reads one reading, refusing what no reading can be.
func ppfd(s string) (float64, error) {
	v, err := number(s)
	if err != nil {
		return 0, err
	}
	if v < 0 {
		return 0, fmt.Errorf("PPFD %v is negative; check the sensor's zero with its cap on and read the spot again, or leave it empty", v)
	}
	return v, nil
}

// clip keeps a message short whatever was pasted.
func clip(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "..."
	}
	return s
}
