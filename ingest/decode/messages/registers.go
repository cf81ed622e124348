package messages

import (
	"fmt"
	"math"
	"math/big"
	"strconv"

	"wane/ingest/decode/number"
	"wane/ingest/reading"
	"wane/ingest/source"
)

// registers hands on every register of the description that lies in the block.
func (d *decoder) registers(l *Line, text []byte, no int) error {
	if d.d.Collect == nil || d.d.Collect.Modbus == nil {
		return d.e.Reject(no, "", "no-registers", "the description names no register; write them under collect.modbus", text)
	}
	found := false
	for i := range d.d.Collect.Modbus.Registers {
		r := &d.d.Collect.Modbus.Registers[i]
		from := r.Address - l.Address
		if r.Kind != l.Kind || from < 0 || from+r.Words() > len(l.Words) {
			continue
		}
		found = true
		v, why := valueOf(r, l.Words[from:from+r.Words()])
		if why != "" {
			if err := d.e.Reject(no, r.Sensor+"/"+r.Channel, "bad-number", why, text); err != nil {
				return err
			}
			continue
		}
		if err := d.add(r.Sensor, r.Channel, l.At.UnixMicro(), v, no, text); err != nil {
			return err
		}
	}
	if !found {
		return d.e.Reject(no, "", "unknown-register", "the description names no register of this block", text)
	}
	return nil
}

// valueOf reads the words of a register and scales them, exactly where that is
// possible; why says why there is no value.
func valueOf(r *source.Register, words []uint16) (v reading.Value, why string) {
	var bits uint64
	for i := range words {
		w := words[i]
		if r.Order == "low-first" {
			w = words[len(words)-1-i]
		}
		bits = bits<<16 | uint64(w)
	}
	n := new(big.Int)
	switch r.Type {
	case "int16":
		n.SetInt64(int64(int16(bits)))
	case "int32":
		n.SetInt64(int64(int32(bits)))
	case "int64":
		n.SetInt64(int64(bits))
	case "float32":
		f := math.Float32frombits(uint32(bits))
		return scaleFloat(r, float64(f), strconv.FormatFloat(float64(f), 'g', -1, 32))
	case "float64":
		f := math.Float64frombits(bits)
		return scaleFloat(r, f, strconv.FormatFloat(f, 'g', -1, 64))
	default:
		n.SetUint64(bits)
	}
	k := r.Factor()
	if v, ok := exact(n.Mul(n, big.NewInt(k.Mantissa)), k.Digits); ok {
		return v, ""
	}
	return reading.Value{}, "a number of 2^53 or more"
}

// scaleFloat scales a float by its shortest decimal, which is what the device
// means by it.
func scaleFloat(r *source.Register, f float64, text string) (reading.Value, string) {
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return reading.Value{}, "the device answered that it has no number (" + text + ")"
	}
	v, st := point.Parse([]byte(text))
	if st != number.OK {
		return reading.Value{}, fmt.Sprintf("%s is no number that can be kept", text)
	}
	k := r.Factor()
	n := new(big.Int).Mul(big.NewInt(v.Mantissa), big.NewInt(k.Mantissa))
	if v, ok := exact(n, int(v.Digits)+k.Digits); ok {
		return v, ""
	}
	if v, ok := reading.Of(f * float64(k.Mantissa) / math.Pow10(k.Digits)); ok {
		return v, ""
	}
	return reading.Value{}, "a number of 2^53 or more"
}

// exact gives n / 10^digits, without trailing zeros where it would not fit.
func exact(n *big.Int, digits int) (reading.Value, bool) {
	ten, q, rest := big.NewInt(10), new(big.Int), new(big.Int)
	for digits > reading.MaxDigits || n.BitLen() > 53 && digits > 0 {
		if q.QuoRem(n, ten, rest); rest.Sign() != 0 {
			return reading.Value{}, false
		}
		n.Set(q)
		digits--
	}
	if n.BitLen() > 53 {
		return reading.Value{}, false
	}
	return reading.Value{Mantissa: n.Int64(), Digits: uint8(digits)}, true
}
