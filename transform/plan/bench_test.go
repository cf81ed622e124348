package plan

import (
	"fmt"
	"testing"
)

// A site of 1,000 lamps in 20 rooms.
func BenchmarkMake1000(b *testing.B) {
	in := site()
	base := in.Lamps
	in.Lamps = nil
	for i := 0; i < 1000; i++ {
		l := base[i%len(base)]
		l.Room, l.Fixture = fmt.Sprint("R", i/50), fmt.Sprint("F", i)
		in.Lamps = append(in.Lamps, l)
	}
	for b.Loop() {
		Make(in)
	}
}
