package yearly

import (
	"encoding/json"
	"math"

	"wane/transform/estimate"
)

// Value is an estimate that can be written: in JSON, what is not finite is null
// and said in words.
type Value struct{ estimate.Estimate }

// MarshalJSON writes centre, interval, level, n, method and warnings.
func (v Value) MarshalJSON() ([]byte, error) {
	out := struct {
		Centre   *float64 `json:"centre"`
		Lo       *float64 `json:"lo"`
		Hi       *float64 `json:"hi"`
		Open     string   `json:"open,omitempty"`
		Level    float64  `json:"level"`
		N        int      `json:"n"`
		Method   string   `json:"method"`
		Warnings []string `json:"warnings,omitempty"`
	}{written(v.Centre), written(v.Lo), written(v.Hi), v.Open(), 0, v.N, v.Method, v.Warnings}
	if estimate.Finite(v.Level) {
		out.Level = v.Level
	}
	return json.Marshal(out)
}

// Open says which end of the interval the data leave open: "above", "below",
// "both", or nothing.
func (v Value) Open() string {
	switch lo, hi := math.IsInf(v.Lo, -1), math.IsInf(v.Hi, 1); {
	case lo && hi:
		return "both"
	case hi:
		return "above"
	case lo:
		return "below"
	}
	return ""
}

func none(method, why string) Value { return Value{estimate.None(method, why)} }

// Number is a number that may be missing: NaN is null.
type Number float64

// MarshalJSON writes null for what is not finite.
func (n Number) MarshalJSON() ([]byte, error) { return json.Marshal(written(float64(n))) }

func written(v float64) *float64 {
	if !estimate.Finite(v) {
		return nil
	}
	return &v
}

var nan = math.NaN()

func orNone(e estimate.Estimate, err error, method string) Value {
	if err != nil {
		return none(method, err.Error())
	}
	return Value{e}
}
