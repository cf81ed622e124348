package parq

import (
	"fmt"
	"testing"
)

// Packing by itself: a steady clock, and values of so many bits.
func BenchmarkPacker(b *testing.B) {
	const n, series = 122880, 288
	for _, bits := range []int{0, 7, 14, 25} {
		v := make([]int64, n)
		for i := range v {
			v[i] = int64(i%series) * 300e6
			if bits > 0 {
				v[i] = int64(uint32(i)*2654435761>>8) & (1<<bits - 1)
			}
		}
		b.Run(fmt.Sprint(bits), func(b *testing.B) {
			var p packer
			for b.Loop() {
				p.reset()
				for i := 0; i < n; i += series {
					p.add(v[i:min(n, i+series)])
				}
				p.finish()
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/n, "ns/value")
		})
	}
}
