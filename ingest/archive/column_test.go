package archive

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"wane/ingest/reading"
)

// heard is a reading as the plain way keeps it.
type heard struct{ at, mantissa int64 }

// Whatever comes, the chunks hold it in order, in memory and put aside, and the
// reversals are those that a look at every reading finds.
func TestColumnsHoldWhatCame(t *testing.T) {
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 3))
		spill, err := os.Create(filepath.Join(t.TempDir(), "aside"))
		if err != nil {
			t.Fatal(err)
		}
		defer spill.Close()
		imp := &Import{opt: Options{Now: noon, Memory: 1 << 40}, spill: spill}
		s := &Sink{t: imp, by: map[reading.Series]*column{}, horizon: noon.Add(FutureSlack).UnixMicro()}
		var b reading.Batch
		names := []string{"a", "b", "c"}
		want, last, line := make([][]heard, len(names)), make([]int64, len(names)), int32(0)
		lineBefore := int32(0)
		var reversals TimeReversals
		at, step, digits := noon.UnixMicro()-40*dayMicros, int64(300e6), uint8(1)
		for _, n := range names {
			b.Series = append(b.Series, reading.Series{Sensor: n, Channel: "x"})
		}
		for range 4000 {
			line++
			at += step
			switch rng.IntN(300) {
			case 0:
				step = -step
			case 1:
				at += rng.Int64N(3*dayMicros) - dayMicros
			case 2:
				at -= step
			case 3:
				digits = uint8(rng.IntN(4))
			case 4:
				line = 1
			case 5:
				step = rng.Int64N(600e6)
			}
			at = min(at, s.horizon+dayMicros)
			i := rng.IntN(len(names))
			v := reading.Value{Mantissa: rng.Int64N(2000) - 1000, Digits: digits}
			if seed%3 == 0 && rng.IntN(500) == 0 {
				v.Mantissa *= 1e7 // some too large for 32 bits, some for the archive
			}
			if line < lineBefore { // another file of a zip
				clear(last)
			}
			lineBefore = line
			if lines := seed%4 < 2; lines && rng.IntN(9) > 0 { // by itself, after what came before
				if err := s.Readings(&b); err != nil {
					t.Fatal(err)
				}
				b.Reset()
				if err := s.Row(b.Series, []int32{int32(i)}, at, []reading.Value{v}, line); err != nil {
					t.Fatal(err)
				}
			} else {
				b.Add(int32(i), at, v, line)
			}
			switch before := last[i]; {
			case before == 0 || before == at:
			case at > before:
				reversals.Up.add(line, before, at)
			default:
				reversals.Down.add(line, before, at)
			}
			last[i] = at
			if bound := limit * pow10[v.Digits]; v.Mantissa < bound && v.Mantissa > -bound && at <= s.horizon {
				want[i] = append(want[i], heard{at, v.Mantissa * pow10[6-v.Digits]})
			}
			if rng.IntN(1000) == 0 {
				if err := s.Readings(&b); err != nil {
					t.Fatal(err)
				}
				b.Reset()
				if seed%2 == 0 {
					if err := s.aside(); err != nil {
						t.Fatal(err)
					}
				}
			}
		}
		if err := s.Readings(&b); err != nil {
			t.Fatal(err)
		}
		if err := s.Done(0); err != nil {
			t.Fatal(err)
		}
		if s.rows != 4000 || s.more != 0 || s.held != imp.held.Load() {
			t.Errorf("seed %d: %d rows; %d bytes held, and the import knows of %d", seed, s.rows, s.held+s.more, imp.held.Load())
		}
		if got := s.TimeReversals(); got != reversals {
			t.Errorf("seed %d: reversals %+v, want %+v", seed, got, reversals)
		}
		for i, n := range names {
			c := s.by[reading.Series{Sensor: n, Channel: "x"}]
			var times, mantissas []int64
			for _, k := range c.chunks {
				from := len(times)
				if times, mantissas, err = k.unpack(spill, minTime, s.horizon+1, 6, times, mantissas); err != nil {
					t.Fatal(err)
				}
				for j := from + 1; j < len(times) && k.ascending; j++ {
					if times[j] <= times[j-1] {
						t.Fatalf("seed %d: a chunk that is said to ascend does not", seed)
					}
				}
				if month := monthIndex(k.first); month != monthIndex(k.last) {
					t.Fatalf("seed %d: a chunk reaches over the end of a month", seed)
				}
			}
			if len(times) != len(want[i]) {
				t.Fatalf("seed %d, %s: %d readings of %d", seed, n, len(times), len(want[i]))
			}
			for j, w := range want[i] {
				if times[j] != w.at || mantissas[j] != w.mantissa {
					t.Fatalf("seed %d, %s, reading %d: %d %d, want %+v", seed, n, j, times[j], mantissas[j], w)
				}
			}
		}
	}
}

// Numbers that do not end, or do not fit what is left, are damage.
func TestDamagedAsideIsTold(t *testing.T) {
	k := &chunk{n: 3, digits: 1, grids: []grid{{at: 100, step: 5, n: 3}}, small: []int32{1, 2, 3}}
	k.bounds()
	packed := k.pack(nil)
	for cut := range packed {
		spill, err := os.CreateTemp(t.TempDir(), "")
		if err != nil {
			t.Fatal(err)
		}
		defer spill.Close()
		bad := append(append([]byte(nil), packed[:cut]...), make([]byte, len(packed)-cut)...)
		for i := cut; i < len(bad); i++ {
			bad[i] = 0xff
		}
		if _, err := spill.Write(bad); err != nil {
			t.Fatal(err)
		}
		c := *k
		c.size, c.small, c.grids = len(packed), nil, nil
		if _, _, err := c.unpack(spill, 0, 1000, 1, nil, nil); err == nil {
			t.Errorf("cut at %d: no error", cut)
		}
	}
}
