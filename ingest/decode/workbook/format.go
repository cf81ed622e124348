package workbook

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// kind is what the number format of a cell makes of its number.
type kind int

const (
	aNumber kind = iota
	aDate
	aTime // of day
	aDateTime
	aDuration
	aPercentage
)

// text writes a cell.
func (b *Book) text(raw string, m mark, decimal string) string {
	switch m.typ {
	case "", "n":
	case "b":
		return strconv.FormatBool(raw == "1" || strings.EqualFold(raw, "true"))
	default:
		return raw
	}
	v, err := strconv.ParseFloat(raw, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return raw
	}
	k := b.kindOf(m.style)
	switch k {
	case aDate, aTime, aDateTime:
		if s := stamp(v, k, b.epoch); s != "" {
			return s
		}
	case aDuration:
		if s := duration(v); s != "" {
			return s
		}
	case aPercentage:
		return digits(strconv.FormatFloat(100*v, 'g', -1, 64), decimal) + "%"
	}
	return digits(raw, decimal)
}

// digits writes a number with the 15 digits that a spreadsheet has: further ones
// come of the binary form that it stores.
func digits(raw, decimal string) string {
	if len(raw) > 15 {
		if v, err := strconv.ParseFloat(raw, 64); err == nil {
			if math.Abs(v) < 0.5e-9 { // what a difference of equals leaves: computed, not printed
				return "0"
			}
			raw = strconv.FormatFloat(v, 'g', 15, 64)
		}
	}
	if decimal == "," {
		raw = strings.Replace(raw, ".", ",", 1)
	}
	return raw
}

// stamp writes a day number; "" where it is none.
func stamp(days float64, k kind, epoch1904 bool) string {
	if days < 0 || days >= 2958466 { // 31 December 9999 is the last
		return ""
	}
	first := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
	if epoch1904 {
		first = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
	} else if days < 61 && k != aTime { // before March 1900 the count has a day that was none
		return ""
	}
	ms := math.Round(math.Mod(days, 1) * 86400e3)
	if off := math.Abs(ms - math.Round(ms/1000)*1000); off <= 10 { // sums of day parts miss whole seconds by little
		ms = math.Round(ms/1000) * 1000
	}
	t := first.AddDate(0, 0, int(days)).Add(time.Duration(ms) * time.Millisecond)
	switch {
	case k == aTime:
		return t.Format("15:04:05.999")
	case k == aDate && ms == 0:
		return t.Format("2006-01-02")
	}
	return t.Format("2006-01-02 15:04:05.999")
}

// duration writes days as hours:minutes:seconds, which may have more hours than a
// day.
func duration(days float64) string {
	if math.Abs(days) > 1e6 {
		return ""
	}
	sec := int64(math.Round(math.Abs(days) * 86400))
	sign := ""
	if days < 0 {
		sign = "-"
	}
	return sign + strconv.FormatInt(sec/3600, 10) + time.Unix(sec, 0).UTC().Format(":04:05")
}

// kindOf tells what a style makes of a number.
func (b *Book) kindOf(style int) kind {
	k, ok := b.kinds[style]
	if ok || style <= 0 {
		return k
	}
	if st, err := b.f.GetStyle(style); err == nil && st != nil {
		if st.CustomNumFmt != nil {
			k = kindOfCode(*st.CustomNumFmt)
		} else {
			k = kindOfBuiltIn(st.NumFmt)
		}
	}
	b.kinds[style] = k
	return k
}

// kindOfBuiltIn is of the formats that files name by number: ECMA-376 part 1,
// 18.8.30.
func kindOfBuiltIn(id int) kind {
	switch {
	case id == 9, id == 10:
		return aPercentage
	case id >= 14 && id <= 17, id >= 27 && id <= 31, id == 36, id >= 50 && id <= 54, id == 57, id == 58:
		return aDate
	case id >= 18 && id <= 21, id >= 32 && id <= 35, id == 45, id == 47, id == 55, id == 56:
		return aTime
	case id == 22:
		return aDateTime
	case id == 46:
		return aDuration
	}
	return aNumber
}

var (
	literal  = regexp.MustCompile(`"[^"]*"|\\.|_.|\*.`)
	elapsed  = regexp.MustCompile(`(?i)\[(h+|m+|s+)\]`)
	brackets = regexp.MustCompile(`\[[^\]]*\]`)
	halfDay  = regexp.MustCompile(`(?i)am/pm|a/p|上午/下午`)
)

// kindOfCode reads a format written out, such as dd/mm/yyyy hh:mm or 0.00.
func kindOfCode(code string) kind {
	code = literal.ReplaceAllString(code, "")
	code, _, _ = strings.Cut(code, ";") // what follows is for negative numbers and texts
	if elapsed.MatchString(code) {
		return aDuration
	}
	code = strings.ToLower(halfDay.ReplaceAllString(brackets.ReplaceAllString(code, ""), "h"))
	if code == "general" {
		return aNumber
	}
	date, clock := strings.ContainsAny(code, "yd"), strings.ContainsAny(code, "hs")
	switch {
	case date && clock:
		return aDateTime
	case clock:
		return aTime
	case date, strings.Contains(code, "m"):
		return aDate
	case strings.Contains(code, "%"):
		return aPercentage
	}
	return aNumber
}
