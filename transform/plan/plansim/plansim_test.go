package plansim

import "testing"

// Ten invented sites: the plan costs less than both habits at nine or more,
// the habits with the yearly cleaning of common practice. The habits with the
// better of that and no cleaning at all, chosen with hindsight, are shown too
// and the plan must not lose by more than 2 % to any of them.
func TestFollowingThePlanCostsLess(t *testing.T) {
	wins := 0
	for n := 0; n < 10; n++ {
		s := New(n)
		const years = 8
		p, f, o := s.Run(FollowPlan, years, 0), s.Run(FixedHours, years, cleanEach), s.Run(OnFailure, years, cleanEach)
		if p.Total < f.Total && p.Total < o.Total {
			wins++
		}
		best := min(s.Best(FixedHours, years).Total, s.Best(OnFailure, years).Total)
		t.Logf("%-36s plan %7.0f, fixed hours %7.0f, on failure %7.0f, the better habit with hindsight on cleaning %7.0f", s.Name, p.Total, f.Total, o.Total, best)
		if p.Total > 1.02*best {
			t.Errorf("%s: the plan costs %.0f, the better habit %.0f", s.Name, p.Total, best)
		}
	}
	if wins < 9 {
		t.Errorf("the plan cost less than both habits at %d of 10 sites", wins)
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
