package plansim

import "testing"

// Ten invented sites of one room each: the plan costs less than both habits at
// nine or more, the habits with the yearly cleaning of common practice. The
// better habit with hindsight (whichever of the two, with yearly cleaning or
// none, turned out cheapest) is a harder mark: over the ten sites together the
// plan must cost less than that too. The larger table is printed by
// go run ./testdata/bench/plan.
func TestFollowingThePlanCostsLess(t *testing.T) {
	wins := 0
	var plans, hindsight float64
	for n := 0; n < 10; n++ {
		s := New(n)
		s.Rooms = 1
		const years = 6
		p, f, o := s.Run(FollowPlan, years, 0), s.Run(FixedHours, years, CleanEach), s.Run(OnFailure, years, CleanEach)
		if p.Total < f.Total && p.Total < o.Total {
			wins++
		}
		best := min(s.Best(FixedHours, years).Total, s.Best(OnFailure, years).Total)
		plans, hindsight = plans+p.Total, hindsight+best
		t.Logf("%-36s plan %6.0f, fixed hours %6.0f, on failure %6.0f, the better habit with hindsight %6.0f", s.Name,
			p.Total, f.Total, o.Total, best)
	}
	if wins < 9 {
		t.Errorf("the plan cost less than both habits at %d of 10 sites", wins)
	}
	if plans >= hindsight {
		t.Errorf("ten sites: the plans cost %.0f, the better habits with hindsight %.0f", plans, hindsight)
	}
}

func TestSameSiteSameLuck(t *testing.T) {
	a, b := New(3).Run(OnFailure, 3, 0), New(3).Run(OnFailure, 3, 0)
	if a != b {
		t.Errorf("%+v then %+v", a, b)
	}
	if New(3).draw(1, 2, 4) != New(3).draw(1, 2, 4) || New(3).draw(1, 2, 4) == New(3).draw(1, 2, 5) {
		t.Error("a lamp's truth must rest on its place alone")
	}
}
