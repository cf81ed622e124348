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

// EachConflict gives every conflict that is stored to fn, by part, series and
// time. It reads only the parts that have any, and holds one conflict: a year
// exported twice in two roundings has as many as it has readings. The values are
// fn's only until it returns.
//
// A decision which of the values holds belongs to the register, as everything
// that people say does; queries that honour one take the reading up again.
func (a *Archive) EachConflict(fn func(Conflict) error) error {
	var now Conflict
	give := func() error {
		if len(now.Values) == 0 {
			return nil
		}
		err := fn(now)
		now.Values = now.Values[:0]
		return err
	}
	for _, p := range a.Parts(Readings) {
		if p.Conflicts == 0 {
			continue
		}
		err := a.ReadReadings(p, func(r *Run) error {
			for i, c := range r.Conflict {
				if !c {
					continue
				}
				if at := time.UnixMicro(r.Time[i]).UTC(); now.Series != r.Series || !now.At.Equal(at) {
					if err := give(); err != nil {
						return err
					}
					now.Series, now.At = r.Series, at
				}
				now.Values = append(now.Values, reading.Value{Mantissa: r.Mantissa[i], Digits: uint8(r.Scale)})
			}
			return nil
		})
		if err == nil {
			err = give()
		}
		if err != nil {
			return err
		}
	}
	return nil
}
