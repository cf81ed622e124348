package plansim

import (
	"fmt"
	"testing"
	"wane/transform/plan"
)

func TestShow(t *testing.T) {
	s := New(0)
	w := s.world()
	for d := 0; d < 700; d++ {
		w.burn(d)
	}
	r := plan.Make(w.input(700))
	for _, x := range r.Rooms {
		fmt.Printf("%+v\n", x.Reasons)
		fmt.Println(x.Decision, x.Date, x.SpotYear, x.GroupYear, x.Group.Hours, x.Group.Lo, x.Group.Hi, x.Spot.Hours, x.MeanLevel, x.Clean)
	}
	for i, x := range r.Lamps {
		if i%6 == 0 {
			fmt.Println(x.Fixture, x.Decision, x.Date, x.Preferred, x.Interval.Hours, x.Interval.RateYear, x.Reasons)
		}
	}
	fmt.Println(w.fix[0].age, w.perHr, w.Fade)
	for _, n := range r.Notes {
		fmt.Println("-", n)
	}
}
func BenchmarkMake(b *testing.B) {
	s := New(0)
	w := s.world()
	in := w.input(700)
	for b.Loop() {
		plan.Make(in)
	}
}
