package number

import (
	"fmt"
	"math/big"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wane/ingest/reading"
)

var point = Notation{Decimal: '.'}

func TestParse(t *testing.T) {
	for _, c := range []struct {
		n    Notation
		text string
		m    int64
		d    uint8
	}{
		{point, "0", 0, 0}, {point, "812.50", 81250, 2}, {point, "-0.07", -7, 2}, {point, "+5", 5, 0}, {point, "+   23.6", 236, 1}, {point, "-  7", -7, 0}, {point, ".5", 5, 1},
		{point, "5.", 5, 0},
		{point, "8.125E+02", 8125, 1}, {point, "1e3", 1000, 0}, {point, "1.5e-3", 15, 4}, {point, "0.000", 0, 3},
		{point, "-0", 0, 0},
		{point, "2.1-", -21, 1}, {point, "(2.1)", -21, 1}, {Notation{Decimal: ',', Group: "."}, "1.012,5-", -10125, 1},
		{point, "000812.5", 8125, 1}, {point, "9007199254740991", 9007199254740991, 0}, {point, "0.1234567894", 123456789, 9},
		{point, "0.1234567895", 123456790, 9},
		{point, "812.123456789123", 812123456789, 9}, {point, "123456789012.3456", 1234567890123456, 4},
		{point, "900719925474099.29", 900719925474099, 0}, // one decimal more would reach 2^53
		{Notation{Decimal: ','}, "812,5", 8125, 1}, {Notation{Decimal: ',', Group: "."}, "12.001,25", 1200125, 2},
		{Notation{Decimal: '.', Group: ","}, "1,234,567.8", 12345678, 1},
		{Notation{Decimal: ',', Group: "\u202f"}, "12\u202f001,5", 120015, 1},
		{Notation{Decimal: '.', Group: "'"}, "-12'001", -12001, 0},
	} {
		v, st := c.n.Parse([]byte(c.text))
		if st != OK || v.Mantissa != c.m || v.Digits != c.d {
			t.Errorf("%q: %+v %v, want %d/%d", c.text, v, st, c.m, c.d)
		}
	}
	for _, c := range []struct {
		n    Notation
		text string
		want Status
	}{
		{point, "", Bad}, {point, "-", Bad}, {point, ".", Bad}, {point, "1,5", Bad}, {point, "1.2.3", Bad},
		{point, "1e", Bad}, {point, "0x10", Bad}, {point, "NaN", Bad}, {point, "Inf", Bad},
		{point, "12 001", Bad}, {point, "1_000", Bad}, {point, "--1", Bad}, {point, "812 lx", Bad}, {point, "９", Bad},
		{point, strings.Repeat("1", 500), Bad},
		{Notation{Decimal: '.', Group: ","}, "12,00.1", Bad}, {Notation{Decimal: '.', Group: ","}, ",123", Bad},
		{Notation{Decimal: '.', Group: ","}, "1234,567", Bad},
		{point, "9007199254740992", TooLarge}, {point, "1e300", TooLarge}, {point, "1e9999", TooLarge},
		{point, "1e-308", TooSmall}, {point, "-0.0000000004", TooSmall}, {point, "0.0000000005", OK}, {point, "0e-308", OK},
		{point, "0.0000000000", OK},
	} {
		if v, st := c.n.Parse([]byte(c.text)); st != c.want {
			t.Errorf("%q: %+v %v, want %v", c.text, v, st, c.want)
		}
	}
}

// TestExact holds the reader against exact arithmetic: the value is the printed
// number, or the nearest one with the digits kept.
func TestExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		whole := rapid.StringMatching(`[0-9]{1,12}`).Draw(t, "whole")
		frac := rapid.StringMatching(`[0-9]{0,14}`).Draw(t, "frac")
		exp := rapid.IntRange(-6, 3).Draw(t, "exp")
		text := rapid.SampledFrom([]string{"", "-", "+"}).Draw(t, "sign") + whole + "." + frac
		if exp != 0 {
			text += "e" + strconv.Itoa(exp)
		}
		v, st := point.Parse([]byte(text))
		if st != OK && st != TooSmall {
			t.Fatalf("%q: %v", text, st)
		}
		want, ok := new(big.Rat).SetString(strings.Replace(text, ".e", ".0e", 1) + map[bool]string{true: "0"}[frac == "" &&
			exp == 0])
		if !ok {
			t.Fatal(text)
		}
		if tiny := want.Sign() != 0 && new(big.Rat).Abs(want).Cmp(big.NewRat(5, 1e10)) < 0; tiny != (st == TooSmall) {
			t.Fatalf("%q: %v", text, st)
		} else if tiny {
			return
		}
		got := new(big.Rat).SetFrac(big.NewInt(v.Mantissa),
			new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(v.Digits)), nil))
		off := new(big.Rat).Sub(got, want)
		half := new(big.Rat).SetFrac(big.NewInt(1), new(big.Int).Mul(big.NewInt(2),
			new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(v.Digits)), nil)))
		if off.Abs(off).Cmp(half) > 0 {
			t.Fatalf("%q: %+v is off by %s", text, v, off.FloatString(12))
		}
		if len(frac)-exp <= reading.MaxDigits && off.Sign() != 0 && len(whole)+len(frac) <= 15 {
			t.Fatalf("%q: %+v is not exact", text, v)
		}
	})
}

func TestCodes(t *testing.T) {
	var c Codes
	for _, text := range []string{"-9999", "6553.5", "0"} {
		v, _ := point.Parse([]byte(text))
		c.Add(v)
	}
	for text, want := range map[string]bool{"-9999": true, "-9999.00": true, "6553.5": true, "6553.50": true,
		"6553": false, "9999": false, "-9999.01": false, "0": true, "0.000": true} {
		v, _ := point.Parse([]byte(text))
		if c.Has(v) != want {
			t.Errorf("%s: %v", text, !want)
		}
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"812.5", "-1.5e-3", "12,001.25", "1e300", "0000.10", "99999999999999999999.5"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		v, st := Notation{Decimal: '.', Group: ","}.Parse([]byte(s))
		if st != OK {
			return
		}
		if v.Digits > reading.MaxDigits || v.Mantissa >= limit || v.Mantissa <= -limit {
			t.Fatalf("%q: %+v is outside the bounds", s, v)
		}
		want, err := strconv.ParseFloat(minusFirst(strings.ReplaceAll(s, ",", "")), 64)
		if err != nil {
			t.Fatalf("%q was read as %+v, the library says %v", s, v, err)
		}
		if d := v.Float() - want; d > 1e-9*(1+abs(want)) || d < -1e-9*(1+abs(want)) {
			t.Fatalf("%q: %v, want %v", s, v.Float(), want)
		}
	})
}

// minusFirst puts the minus of accounts, behind the digits or as brackets round them, before
// them, where the library looks for it.
func minusFirst(s string) string {
	if digits, ok := strings.CutSuffix(s, "-"); ok {
		return "-" + digits
	}
	if strings.HasPrefix(s, "(") && strings.HasSuffix(s, ")") {
		return "-" + s[1:len(s)-1]
	}
	return s
}

func abs(f float64) float64 {
	if f < 0 {
		return -f
	}
	return f
}

func ExampleNotation_Parse() {
	v, _ := Notation{Decimal: ',', Group: "."}.Parse([]byte("12.001,50"))
	fmt.Println(v.Mantissa, v.Digits)
	// Output: 1200150 2
}
