package columnar

import (
	"math"
	"math/big"
	"strconv"
	"time"

	"github.com/apache/arrow/go/v15/parquet"
	"github.com/apache/arrow/go/v15/parquet/schema"
)

// writer gives how the values of a column are written as text; nil for a type
// that is no single value.
//
//   - A timestamp in UTC is RFC 3339; one that is a local time, or of which the
//     file does not say which of the two it is, has no offset.
//   - A number has its own digits; a NaN stands for no value.
//   - A time that no calendar has is the bare integer, which reads as no stamp.
func writer(node *schema.Column) func(*column, int) string {
	switch lt := node.LogicalType().(type) {
	case *schema.TimestampLogicalType:
		perSec := map[schema.TimeUnitType]int64{schema.TimeUnitMillis: 1e3, schema.TimeUnitMicros: 1e6,
			schema.TimeUnitNanos: 1e9}[lt.TimeUnit()]
		if perSec == 0 || node.PhysicalType() != parquet.Types.Int64 {
			return nil
		}
		layout := "2006-01-02 15:04:05.999999999"
		if lt.IsAdjustedToUTC() && !lt.IsFromConvertedType() {
			layout = "2006-01-02T15:04:05.999999999Z"
		}
		return func(c *column, i int) string { return stampOf(c.int64s[i], perSec, layout) }
	case schema.DateLogicalType:
		return func(c *column, i int) string { return stampOf(int64(c.int32s[i])*86400, 1, time.DateOnly) }
	case *schema.TimeLogicalType:
		perSec := map[schema.TimeUnitType]int64{schema.TimeUnitMillis: 1e3, schema.TimeUnitMicros: 1e6,
			schema.TimeUnitNanos: 1e9}[lt.TimeUnit()]
		return func(c *column, i int) string { return stampOf(c.integer(i), perSec, "15:04:05.999999999") }
	case *schema.DecimalLogicalType:
		scale := int(lt.Scale())
		return func(c *column, i int) string { return decimal(c, i, scale) }
	case *schema.IntLogicalType:
		if !lt.IsSigned() {
			return func(c *column, i int) string {
				if c.int32s != nil {
					return strconv.FormatUint(uint64(uint32(c.int32s[i])), 10)
				}
				return strconv.FormatUint(uint64(c.int64s[i]), 10)
			}
		}
	}
	switch node.PhysicalType() {
	case parquet.Types.Boolean:
		return func(c *column, i int) string { return strconv.FormatBool(c.bools[i]) }
	case parquet.Types.Int32, parquet.Types.Int64:
		return func(c *column, i int) string { return strconv.FormatInt(c.integer(i), 10) }
	case parquet.Types.Int96: // the timestamps of old writers; which zone they are in is not said
		return func(c *column, i int) string {
			t := c.int96s[i].ToTime().UTC()
			return stampOf(t.Unix(), 1, "2006-01-02 15:04:05") + fraction(t.Nanosecond())
		}
	case parquet.Types.Float:
		return func(c *column, i int) string { return float(float64(c.floats[i]), 32) }
	case parquet.Types.Double:
		return func(c *column, i int) string { return float(c.doubles[i], 64) }
	case parquet.Types.ByteArray:
		return func(c *column, i int) string { return string(c.bytes[i]) }
	}
	return nil
}

func fraction(ns int) string {
	if ns == 0 {
		return ""
	}
	return "." + strconv.Itoa(1e9 + ns)[1:]
}

// stampOf writes units since 1970.
func stampOf(v, perSec int64, layout string) string {
	sec, part := v/perSec, v%perSec
	if part < 0 {
		sec, part = sec-1, part+perSec
	}
	t := time.Unix(sec, part*(1e9/perSec)).UTC()
	if y := t.Year(); y < 1 || y > 9999 {
		return strconv.FormatInt(v, 10)
	}
	return t.Format(layout)
}

// float writes the shortest digits that stand for the number.
func float(v float64, bits int) string {
	if math.IsNaN(v) {
		return ""
	}
	if math.Abs(v) < 0.5e-9 { // computed, not printed: rounded as all floats are, see reading.MaxDigits
		return "0"
	}
	return strconv.FormatFloat(v, 'g', -1, bits)
}

// decimal writes an unscaled integer, of any of the types that hold one.
func decimal(c *column, i, scale int) string {
	var n *big.Int
	switch {
	case c.bytes != nil:
		n = twosComplement(c.bytes[i])
	case c.fixed != nil:
		n = twosComplement(c.fixed[i])
	default:
		n = big.NewInt(c.integer(i))
	}
	sign, text := "", n.String()
	if n.Sign() < 0 {
		sign, text = "-", text[1:]
	}
	if scale <= 0 {
		return sign + text
	}
	for len(text) <= scale {
		text = "0" + text
	}
	return sign + text[:len(text)-scale] + "." + text[len(text)-scale:]
}

// twosComplement reads a big-endian number.
func twosComplement(b []byte) *big.Int {
	n := new(big.Int).SetBytes(b)
	if len(b) > 0 && b[0] >= 0x80 {
		n.Sub(n, new(big.Int).Lsh(big.NewInt(1), uint(8*len(b))))
	}
	return n
}
