package archive

import (
	"time"

	"wane/ingest/reading"
)

// Conflict is a moment at which a series has several values. None of them is to
// be used until someone decides.
type Conflict struct {
	Series reading.Series
	At     time.Time
	Values []reading.Value // ascending
}

// Conflicts lists every conflict that is stored, by part, series and time. It
// reads only the parts that have any.
//
// A decision which of the values holds belongs to the register, as everything
// that people say does; queries that honour one take the reading up again.
func (a *Archive) Conflicts() ([]Conflict, error) {
	var out []Conflict
	for _, p := range a.Parts(Readings) {
		if p.Conflicts == 0 {
			continue
		}
		err := a.ReadReadings(p, func(r *Run) error {
			for i, c := range r.Conflict {
				if !c {
					continue
				}
				at, v := time.UnixMicro(r.Time[i]).UTC(), reading.Value{Mantissa: r.Mantissa[i], Digits: uint8(r.Scale)}
				if n := len(out); n > 0 && out[n-1].Series == r.Series && out[n-1].At.Equal(at) {
					out[n-1].Values = append(out[n-1].Values, v)
				} else {
					out = append(out, Conflict{Series: r.Series, At: at, Values: []reading.Value{v}})
				}
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}
