package ingest

import (
	"slices"
	"time"

	"wane/ingest/archive"
	"wane/ingest/reading"
	"wane/transform/fleet"
)

// Origins tells which files readings came from.
type Origins struct {
	files  map[int64]archive.File // by sequence
	cover  []archive.Covered
	series map[reading.Series][]int // indices into cover
}

// Origin is a file with what it holds of one series.
type Origin struct {
	File archive.File
	archive.Covered
}

// OriginsOf reads what the archive says of its files.
func OriginsOf(a *archive.Archive) (*Origins, error) {
	files, err := a.Files()
	if err != nil {
		return nil, err
	}
	cover, err := a.Coverage()
	if err != nil {
		return nil, err
	}
	return newOrigins(files, cover), nil
}

func newOrigins(files []archive.File, cover []archive.Covered) *Origins {
	o := &Origins{files: map[int64]archive.File{}, cover: cover, series: map[reading.Series][]int{}}
	for _, f := range files {
		o.files[f.Sequence] = f
	}
	for i, c := range cover {
		o.series[c.Series] = append(o.series[c.Series], i)
	}
	return o
}

// Behind gives the files that hold readings of what watched a fixture, while it
// did and within [from, to), in the archive's order; a zero bound is open.
func (o *Origins) Behind(watched []fleet.Watched, from, to time.Time) []Origin {
	var at []int
	for _, w := range watched {
		for _, i := range o.series[reading.Series{Sensor: w.Row.Sensor, Channel: w.Row.Channel}] {
			if c := o.cover[i]; within(c, w.From, w.To) && within(c, from, to) {
				at = append(at, i)
			}
		}
	}
	slices.Sort(at)
	var out []Origin
	for _, i := range slices.Compact(at) {
		out = append(out, Origin{o.files[o.cover[i].Sequence], o.cover[i]})
	}
	return out
}

func within(c archive.Covered, from, to time.Time) bool {
	return !c.Last.Before(from) && (to.IsZero() || c.First.Before(to))
}
