package derive

import (
	"fmt"
	"math"
	"sort"

	"wane/ingest/archive"
	"wane/transform/forecast"
)

// weeks is the settled weeks of all lives, by fixture and life.
type weeks struct {
	fixture []string
	life    []int64
	block   []forecast.Block
}

func (w *weeks) add(fixture string, life int, of []forecast.Block) {
	for _, b := range of {
		w.fixture, w.life, w.block = append(w.fixture, fixture), append(w.life, int64(life)), append(w.block, b)
	}
}

// of gives those of one life.
func (w *weeks) of(fixture string, life int) []forecast.Block {
	at := func(n int64) int {
		return sort.Search(len(w.fixture), func(i int) bool {
			return w.fixture[i] > fixture || w.fixture[i] == fixture && w.life[i] >= n
		})
	}
	return w.block[at(int64(life)):at(int64(life)+1)]
}

// columns lays them out: day is the middle of the week, n the daily values in
// it, ln_output the median of ln of light at full power, the rest means.
func (w *weeks) columns() []archive.Column {
	t := &table{rows: len(w.block)}
	nan := math.NaN()
	t.text("fixture", func(i int) string { return w.fixture[i] })
	t.whole("lamp_life", archive.Int64, func(i int) int64 { return w.life[i] })
	t.whole("day", archive.Date, func(i int) int64 { return int64(w.block[i].Day) })
	t.whole("n", archive.Int64, func(i int) int64 { return int64(w.block[i].N) })
	t.number("run_hours", func(i int) float64 { return w.block[i].Hours })
	t.number("ln_output", func(i int) float64 { return w.block[i].LnOut })
	t.number("dim", func(i int) float64 { return w.block[i].Dim })
	t.maybe("supply_ln", func(i int) float64 {
		if !w.block[i].HasSupply {
			return nan
		}
		return w.block[i].Supply
	})
	t.maybe("ambient_c", func(i int) float64 {
		if !w.block[i].HasAmbient {
			return nan
		}
		return w.block[i].Ambient
	})
	return t.cols
}

// readWeeks reads the weeks that were settled with a key.
func readWeeks(a *archive.Archive, key string) (*weeks, error) {
	p := partWith(a, TableWeeks, key)
	if p == nil {
		return &weeks{}, nil
	}
	c, err := a.ReadTable(*p)
	if err != nil {
		return nil, fmt.Errorf("read settled weeks: %w", err)
	}
	w := &weeks{fixture: c[0].Text, life: c[1].Int, block: make([]forecast.Block, c[0].Len())}
	supply, ambient := &c[7], &c[8]
	for i := range w.block {
		b := forecast.Block{Day: int(c[2].Int[i]), N: int(c[3].Int[i]), Hours: c[4].Float[i], LnOut: c[5].Float[i], Dim: c[6].Float[i]}
		if supply.Valid == nil || supply.Valid[i] {
			b.Supply, b.HasSupply = supply.Float[i], true
		}
		if ambient.Valid == nil || ambient.Valid[i] {
			b.Ambient, b.HasAmbient = ambient.Float[i], true
		}
		w.block[i] = b
	}
	return w, nil
}
