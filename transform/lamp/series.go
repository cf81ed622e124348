package lamp

import (
	"wane/transform/hours"
	"wane/transform/level"
)

// Series is a life's hours and levels day by day.
type Series struct {
	Totals []hours.Total
	Days   []level.Day // of the roll-up, with run-hours; days with no light included
	Levels []level.Level
}

// A Source gives lives their series, which are many: some hundred bytes a day.
// It may be asked from several goroutines; it gives nil where it has none.
type Source interface{ SeriesOf(l *Life) *Series }

// WithSeries gives the life with its hours and levels, day by day. They are the
// caller's to forget. Where they cannot be read there are none, and the source
// says why when it is closed.
func (l *Life) WithSeries() *Life {
	if l.Source == nil {
		return l
	}
	out := *l
	out.Source = nil
	if x := l.Source.SeriesOf(l); x != nil {
		out.Series = *x
	}
	return &out
}

// WithSeries gives all of them with their series.
func WithSeries(lives []*Life) []*Life {
	out := make([]*Life, len(lives))
	for i := range out {
		out[i] = lives[i].WithSeries()
	}
	return out
}
