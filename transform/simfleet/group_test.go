package simfleet

import "testing"

// The same options give the same group; makes and lots are the same at all sites.
func TestGroupIsTheSame(t *testing.T) {
	opt := GroupOptions{Seed: 2, Sites: 3, Fixtures: 12, Days: 900, NewSites: 2}
	a, b := NewGroup(opt), NewGroup(opt)
	sites := map[string]map[int]bool{}
	fresh := map[int]bool{}
	for i, s := range a.Sites {
		for k, l := range s.Input.Lamps {
			if a.Sites[i].Truth[k].Due != b.Sites[i].Truth[k].Due || l.Lot != b.Sites[i].Input.Lamps[k].Lot {
				t.Fatalf("site %d, lamp %d differs", i, k)
			}
			if sites[l.Lot] == nil {
				sites[l.Lot] = map[int]bool{}
			}
			sites[l.Lot][i] = true
			if l.Make == a.New {
				fresh[i] = true
				if age := s.Input.AsOf - l.StartDay; age < 100 || age > 500 {
					t.Errorf("a lamp of the new make hangs since %d days", age)
				}
			}
		}
	}
	several := 0
	for _, at := range sites {
		if len(at) > 1 {
			several++
		}
	}
	if several < 2 || len(fresh) != 2 {
		t.Errorf("%d lots at several sites, the new make at %d", several, len(fresh))
	}
}

// Fitted with the other sites, lamps of a make that is new to all get more answers and
// nearer ones than at their site alone. testdata/bench/group has the figures.
func TestGroupKnowsANewMakeSooner(t *testing.T) {
	var all GroupCases
	for seed := uint64(1); seed <= 3; seed++ {
		c, err := JudgeGroup(NewGroup(GroupOptions{Seed: seed, Sites: 6, Fixtures: 24, Days: 1500}))
		if err != nil {
			t.Fatal(err)
		}
		all.FreshAlone, all.FreshPooled = append(all.FreshAlone, c.FreshAlone...), append(all.FreshPooled, c.FreshPooled...)
	}
	alone, pooled := ScoreOf(all.FreshAlone, 0), ScoreOf(all.FreshPooled, 0)
	t.Logf("alone:  refused %.2f, error %.3f, within 20 %% %.2f, held %.2f", alone.Refused, alone.Median, alone.Hit, alone.Coverage)
	t.Logf("pooled: refused %.2f, error %.3f, within 20 %% %.2f, held %.2f", pooled.Refused, pooled.Median, pooled.Hit, pooled.Coverage)
	if pooled.N < 60 || pooled.Refused >= alone.Refused || pooled.Hit <= alone.Hit || pooled.Coverage < .7 {
		t.Errorf("alone %+v\npooled %+v", alone, pooled)
	}
}

// A site that hung lamps two months ago has nothing to go by; in its group it begins
// with what the others know of their make.
func TestGroupTeachesLampsOfFewHours(t *testing.T) {
	var all GroupCases
	for seed := uint64(1); seed <= 3; seed++ {
		c, err := JudgeGroup(NewGroup(GroupOptions{Seed: seed, Sites: 6, Fixtures: 24, Days: 1500, Young: true}))
		if err != nil {
			t.Fatal(err)
		}
		all.FreshAlone, all.FreshPooled = append(all.FreshAlone, c.FreshAlone...), append(all.FreshPooled, c.FreshPooled...)
	}
	alone, pooled := ScoreOf(all.FreshAlone, 0), ScoreOf(all.FreshPooled, 0)
	t.Logf("alone:  of %d refused %.2f", alone.N, alone.Refused)
	t.Logf("pooled: refused %.2f, error %.3f, within 20 %% %.2f, held %.2f", pooled.Refused, pooled.Median, pooled.Hit,
		pooled.Coverage)
	if alone.N < 60 || alone.Refused < .7 || pooled.Refused > .7 || pooled.Coverage < .7 {
		t.Errorf("alone %+v\npooled %+v", alone, pooled)
	}
}
