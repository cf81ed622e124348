// Package number reads the decimals that loggers print, exactly: 812.50 is
// 81250 with two digits, not the nearest float.
package number

import (
	"bytes"

	"wane/ingest/reading"
)

// Status says how a text fared as a number.
type Status uint8

const (
	OK       Status = iota
	Bad             // not a number in this notation
	TooLarge        // a number, but of 2^53 or more: no decimal of ours holds it
	TooSmall        // a number, but 0 once rounded, and not 0 as printed
)

// Notation is how a source writes numbers.
type Notation struct {
	Decimal byte   // '.' or ','
	Group   string // thousands mark, "" for none
}

// limit is the magnitude below which a mantissa turns into a float without
// loss.
const limit = 1 << 53

// Parse reads one number without surrounding blanks: digits with at most one
// decimal sign, an optional sign and exponent, and thousands marks if the
// notation has one and they stand in threes. A minus may stand behind the digits,
// or brackets round them, as accounts write it. Digits beyond reading.MaxDigits,
// or beyond what 2^53 holds, are rounded off, half away from zero.
// What would be 0 by that and is not is TooSmall.
func (n Notation) Parse(b []byte) (reading.Value, Status) {
	// The plain case first: at most 15 digits, so below 2^53 for certain.
	i, neg := 0, false
	if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		neg = b[0] == '-'
		i = 1
	}
	if len(b)-i > 16 || len(b) == i {
		return n.slow(b)
	}
	var m int64
	point := -1
	for k := i; k < len(b); k++ {
		c := b[k] - '0'
		if c <= 9 {
			m = m*10 + int64(c)
			continue
		}
		if b[k] != n.Decimal || point >= 0 {
			return n.slow(b)
		}
		point = k
	}
	digits := 0
	if point >= 0 {
		digits = len(b) - point - 1
		if len(b)-i == 1 || digits > reading.MaxDigits {
			return n.slow(b)
		}
	}
	if m >= limit {
		return n.slow(b)
	}
	if neg {
		m = -m
	}
	return reading.Value{Mantissa: m, Digits: uint8(digits)}, OK
}

// slow reads what is long, rounded, grouped or has an exponent.
func (n Notation) slow(b []byte) (reading.Value, Status) {
	if len(b) == 0 || len(b) > 400 {
		return reading.Value{}, Bad
	}
	neg := b[0] == '-'
	switch last := len(b) - 1; {
	case neg || b[0] == '+':
		b = bytes.TrimLeft(b[1:], " ") // recorders set numbers right behind their signs
	case b[last] == '-': // as accounting systems write it
		neg, b = true, b[:last]
	case b[0] == '(' && b[last] == ')': // as accountants do
		neg, b = true, b[1:last]
	}
	exp := 0
	if k := bytes.IndexAny(b, "eE"); k >= 0 {
		var ok bool
		if exp, ok = exponent(b[k+1:]); !ok {
			return reading.Value{}, Bad
		}
		b = b[:k]
	}
	whole, frac := b, []byte(nil)
	if k := bytes.IndexByte(b, n.Decimal); k >= 0 {
		whole, frac = b[:k], b[k+1:]
	}
	if n.Group != "" {
		var ok bool
		if whole, ok = n.ungroup(whole); !ok {
			return reading.Value{}, Bad
		}
	}
	if len(whole)+len(frac) == 0 || !allDigits(whole) || !allDigits(frac) {
		return reading.Value{}, Bad
	}
	digits := append(bytes.Clone(whole), frac...)
	return decimal(digits, len(whole)+exp, neg)
}

// ungroup takes the thousands marks out, which must leave groups of three.
func (n Notation) ungroup(whole []byte) ([]byte, bool) {
	if !bytes.Contains(whole, []byte(n.Group)) {
		return whole, true
	}
	parts := bytes.Split(whole, []byte(n.Group))
	if len(parts[0]) < 1 || len(parts[0]) > 3 {
		return nil, false
	}
	for _, p := range parts[1:] {
		if len(p) != 3 {
			return nil, false
		}
	}
	return bytes.Join(parts, nil), true
}

func exponent(b []byte) (int, bool) {
	neg := false
	if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		neg = b[0] == '-'
		b = b[1:]
	}
	if len(b) == 0 || len(b) > 4 || !allDigits(b) {
		return 0, false
	}
	e := 0
	for _, c := range b {
		e = e*10 + int(c-'0')
	}
	if neg {
		e = -e
	}
	return e, true
}

func allDigits(b []byte) bool {
	for _, c := range b {
		if c < '0' || c > '9' {
			return false
		}
	}
	return true
}

// decimal makes the value of 0.d1d2d3… * 10^point.
func decimal(digits []byte, point int, neg bool) (reading.Value, Status) {
	lead := 0
	for lead < len(digits) && digits[lead] == '0' {
		lead++
	}
	if lead == len(digits) { // zero keeps its printed decimals
		return reading.Value{Digits: uint8(max(0, min(len(digits)-point, reading.MaxDigits)))}, OK
	}
	digits, point = digits[lead:], point-lead
	if point > 16 {
		return reading.Value{}, TooLarge
	}
	// keep is how many decimals are taken: those printed, fewer where the
	// mantissa would reach the limit.
	keep := max(0, min(len(digits)-point, reading.MaxDigits))
	for ; ; keep-- {
		m, ok := scaled(digits, point+keep)
		if ok && m == 0 {
			return reading.Value{}, TooSmall
		}
		if ok {
			if neg {
				m = -m
			}
			return reading.Value{Mantissa: m, Digits: uint8(keep)}, OK
		}
		if keep == 0 {
			return reading.Value{}, TooLarge
		}
	}
}

// scaled takes the first n digits (zeros are added at the end, none are taken
// for n < 0) as an integer, rounded by the digit that follows.
func scaled(digits []byte, n int) (int64, bool) {
	if n > 17 {
		return 0, false
	}
	if n < 0 {
		return 0, true
	}
	var m int64
	for i := range n {
		d := byte('0')
		if i < len(digits) {
			d = digits[i]
		}
		m = m*10 + int64(d-'0')
	}
	if n < len(digits) && digits[n] >= '5' {
		m++
	}
	return m, m < limit
}

// Codes are missing-value codes that are numbers, ready to compare with parsed
// values at any number of printed decimals.
type Codes [][reading.MaxDigits + 1]int64

// none marks a number of digits at which a code cannot be printed.
const none = -1 << 63

// Add takes a code.
func (c *Codes) Add(v reading.Value) {
	for v.Digits > 0 && v.Mantissa%10 == 0 {
		v.Mantissa /= 10
		v.Digits--
	}
	var row [reading.MaxDigits + 1]int64
	for d := range row {
		row[d] = none
		if d >= int(v.Digits) {
			m := v.Mantissa
			for range d - int(v.Digits) {
				if m > limit || m < -limit {
					break
				}
				m *= 10
			}
			row[d] = m
		}
	}
	*c = append(*c, row)
}

// Has tells whether v is one of the codes.
func (c Codes) Has(v reading.Value) bool {
	for i := range c {
		if c[i][v.Digits] == v.Mantissa {
			return true
		}
	}
	return false
}
