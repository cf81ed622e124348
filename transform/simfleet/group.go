package simfleet

import (
	"fmt"
	"math"
	"math/rand/v2"

	"wane/transform/forecast"
)

// GroupOptions is of a group of sites. Zero values give ten sites of 40 fixtures over
// six years, five of them with a new make.
type GroupOptions struct {
	Seed                  uint64
	Sites, Fixtures, Days int
	NewSites              int // sites that hung lamps of a new make a few months ago
	// Young: what those sites hung is a make that the others know, and two months ago.
	Young bool
}

// Group is an invented group of sites. Lamp types, makes and lots are the same at all
// of them; sensors, dirt and rooms are each site's own.
type Group struct {
	Sites []*Fleet
	New   string // the make that hangs at some sites since a few months only
	young bool
}

// makeShare is how much of the variance of lots lies between makes (invented).
const makeShare = .5

// NewGroup invents one.
func NewGroup(opt GroupOptions) *Group {
	or := func(n, d int) int {
		if n == 0 {
			return d
		}
		return n
	}
	opt.Sites, opt.Fixtures, opt.Days = or(opt.Sites, 10), or(opt.Fixtures, 40), or(opt.Days, 6*365+1)
	opt.NewSites = or(opt.NewSites, 5)
	rng := rand.New(rand.NewPCG(mix(opt.Seed), mix(opt.Seed+0x67726f7570)))
	kinds := [][2]string{{forecast.HPSDE, forecast.Electronic}, {forecast.HPSSE, forecast.Magnetic},
		{forecast.CMH, forecast.Electronic}, {forecast.LED, forecast.Driver}}
	fresh := rng.IntN(3) // the new make is of a discharge type: few LEDs fall due within the record
	out := &Group{New: kinds[fresh][0] + "-make-new", young: opt.Young}
	var laws []classLaw
	var of [][2]string
	var freshLaw classLaw
	for n, k := range kinds {
		class := drawClass(rng, k[0], k[1])
		if n == fresh {
			freshLaw = class.made(rng, out.New)
		}
		for m := range 3 {
			laws, of = append(laws, class.made(rng, fmt.Sprintf("%s-make-%d", k[0], m+1))), append(of, k)
		}
	}
	lots := map[string]lotLaw{}
	for i := range opt.Sites {
		site := rand.New(rand.NewPCG(mix(opt.Seed+uint64(i+1)<<32), mix(opt.Seed)))
		o := Options{Fixtures: opt.Fixtures, Days: opt.Days, Day0: 17897}
		s := &sim{opt: o, rng: site, site: drawSite(site), lots: lots, fleet: &Fleet{}}
		const rooms = 4
		for k := range rooms {
			at := site.IntN(len(laws))
			law, kind := laws[at], of[at]
			switch {
			case k > 0 || i >= opt.NewSites:
			case opt.Young:
				s.opt.start = opt.Days - int(uniform(site, 40, 90))
			default:
				law, kind = freshLaw, kinds[fresh]
				s.opt.start = opt.Days - int(uniform(site, 200, 500))
			}
			s.room(drawRoom(site, roomName(k), kind[0], kind[1], law, s.opt), opt.Fixtures/rooms)
			s.opt.start = 0
		}
		s.fleet.Input.AsOf = o.Day0 + o.Days - 1
		out.Sites = append(out.Sites, s.fleet)
	}
	return out
}

// made is a type's law as one make has it: part of what lots differ by is the make's.
func (c classLaw) made(rng *rand.Rand, name string) classLaw {
	m := c
	m.model = name
	m.slope = c.slope * math.Exp(c.lotSD*math.Sqrt(makeShare)*clip(rng.NormFloat64(), -2.5, 2.5))
	m.power = c.power + c.powerLot*math.Sqrt(makeShare)*rng.NormFloat64()
	m.early = c.early + c.earlyLot*math.Sqrt(makeShare)*rng.NormFloat64()
	left := math.Sqrt(1 - makeShare)
	m.lotSD, m.powerLot, m.earlyLot = left*c.lotSD, left*c.powerLot, left*c.earlyLot
	return m
}

// GroupCases is what is said of a group's lamps in service that are not under their
// threshold yet: each site alone, and all fitted as one. Fresh are those of the new make.
type GroupCases struct{ Alone, Pooled, FreshAlone, FreshPooled []Case }

// JudgeGroup asks as of the sites' last day.
func JudgeGroup(g *Group) (c GroupCases, err error) {
	judge := func(i int, f *forecast.Fit, all, fresh *[]Case) {
		s := g.Sites[i]
		for _, p := range f.Posteriors() {
			l, truth := &s.Input.Lamps[p.Lamp], s.Truth[p.Lamp].Due
			if l.Dark || truth <= l.HoursNow || l.Bins[len(l.Bins)-1].Day < s.Input.AsOf-60 {
				continue
			}
			k := Said(&p, f.Defaults())
			k.Class, k.Truth = l.Class, truth
			if l.Make == g.New || g.young && l.Hung > s.Input.AsOf-100 {
				*fresh = append(*fresh, k)
			} else {
				*all = append(*all, k)
			}
		}
	}
	for i, s := range g.Sites {
		f, err := forecast.Run(&s.Input, forecast.Options{})
		if err != nil {
			return c, err
		}
		judge(i, f, &c.Alone, &c.FreshAlone)
	}
	sites := forecast.Sites{N: len(g.Sites), Open: func(i int) (*forecast.Input, error) { return &g.Sites[i].Input, nil }}
	_, err = forecast.RunPool(sites, func(i int, f *forecast.Fit) error {
		judge(i, f, &c.Pooled, &c.FreshPooled)
		return nil
	})
	return c, err
}
