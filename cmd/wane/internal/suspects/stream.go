package suspects

import (
	"cmp"
	"errors"
	"iter"
	"slices"
	"sort"

	"wane/ingest/archive"
	"wane/ingest/reading"
	"wane/transform/daily"
)

// eachSeries gives the readings of every series in [from, to) to fn, in order of
// sensor and channel. Readings in conflict are left out. The track is fn's own.
func eachSeries(a *archive.Archive, from, to int64, fn func(reading.Series, daily.Track)) error {
	var heads []*head
	defer func() {
		for _, h := range heads {
			h.stop()
		}
	}()
	for _, p := range a.Parts(archive.Readings) {
		if p.Last.UnixMicro() < from || p.First.UnixMicro() >= to {
			continue
		}
		h := headOf(a, p)
		heads = append(heads, h)
		if err := h.advance(); err != nil {
			return err
		}
	}
	var values []float64
	usual := 0 // readings of the series before
	for {
		least := -1
		for i, h := range heads {
			if h.run != nil && (least < 0 || compare(h.run.Series, heads[least].run.Series) < 0) {
				least = i
			}
		}
		if least < 0 {
			return nil
		}
		name := heads[least].run.Series
		t := daily.Track{Time: make([]int64, 0, usual), Value: make([]float64, 0, usual)}
		for _, h := range heads { // in order of time, but for parts of different scales
			for h.run != nil && h.run.Series == name {
				values = h.run.Floats(values)
				for i, at := range h.run.Time {
					if at >= from && at < to && !h.run.Conflict[i] {
						t.Time, t.Value = append(t.Time, at), append(t.Value, values[i])
					}
				}
				if err := h.advance(); err != nil {
					return err
				}
			}
		}
		if usual = t.Len(); usual == 0 {
			continue
		}
		if !slices.IsSorted(t.Time) {
			sort.Sort(byTime{t})
		}
		fn(name, t)
	}
}

func compare(a, b reading.Series) int {
	return cmp.Or(cmp.Compare(a.Sensor, b.Sensor), cmp.Compare(a.Channel, b.Channel))
}

// head is a part while it is read from its beginning; run is nil at its end.
type head struct {
	run  *archive.Run
	next func() (*archive.Run, error, bool)
	stop func()
}

var errStopped = errors.New("stopped")

func headOf(a *archive.Archive, p archive.Part) *head {
	next, stop := iter.Pull2(func(yield func(*archive.Run, error) bool) {
		err := a.ReadReadings(p, func(r *archive.Run) error {
			if !yield(r, nil) {
				return errStopped
			}
			return nil
		})
		if err != nil && !errors.Is(err, errStopped) {
			yield(nil, err)
		}
	})
	return &head{next: next, stop: stop}
}

func (h *head) advance() error {
	run, err, ok := h.next()
	if h.run = run; !ok {
		h.run = nil
	}
	return err
}

type byTime struct{ daily.Track }

func (b byTime) Less(i, j int) bool { return b.Time[i] < b.Time[j] }
func (b byTime) Swap(i, j int) {
	b.Time[i], b.Time[j] = b.Time[j], b.Time[i]
	b.Value[i], b.Value[j] = b.Value[j], b.Value[i]
}
