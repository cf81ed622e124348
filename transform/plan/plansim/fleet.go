// Package plansim invents sites whose truth is known and lives through years
// on them under different ways of keeping lamps: following the relamp plan,
// made again each quarter from forecasts that err as measured, and two common
// habits.
//
// All ways see the same lamps: the n-th lamp in a fixture has the same fade
// and the same life whatever the policy, so the costs differ by what people
// did and not by luck. Times are days from the start; a day is the step.
//
// The invented figures (prices, fades, lives, crop values) are assumptions made
// for this comparison; they are no defaults of the plan.
package plansim

import (
	"fmt"
	"math"
	"math/rand/v2"

	"wane/transform/plan"
)

// Site is an invented site. Its truth is drawn from Seed alone.
type Site struct {
	Name      string
	Seed      uint64
	LampType  string
	Burn      float64 // hours a day
	Threshold float64
	Fixed     float64 // hours at which the habit replaces all
	Rooms     int
	PerRoom   int
	PPFD      float64
	Area      float64 // m2 per fixture
	PowerW    float64
	Fade      float64 // mean level lost per hour
	LotSd     float64 // ln spread between lots (rooms)
	LampSd    float64 // ln spread between lamps of a lot
	Eta, Beta float64 // true Weibull law of failures
	EtaError  float64 // factor by which the site misjudges Eta
	Dirt      float64 // mean share of light that settled dirt takes
	Value     float64 // crop value per m2 and year
	Share     float64 // the lamps' share of the crop's light
	Crop      string  // row of the published response table
	Settings  plan.Settings
}

// lampType is what the invented sites assume of a type.
type lampType struct {
	name                    string
	fade, eta, beta         float64
	price, power, ppf       float64
	fixed, threshold, spotM float64
}

var types = []lampType{
	{"hps-de", 8.5e-6, 26000, 3, 75, 1040, 1750, 10000, 0.90, 15},
	{"hps-se", 12.5e-6, 24000, 2.5, 38, 640, 900, 10000, 0.88, 12},
	{"cmh", 12e-6, 20000, 3, 85, 330, 540, 12000, 0.85, 12},
	{"led", 2.8e-6, 90000, 1.5, 420, 620, 1600, 36000, 0.90, 30},
}

// crops are invented crops: value a m2 and year, lamps' share, target PPFD,
// burning hours a day.
var crops = []struct {
	name               string
	value, share, ppfd float64
	burn               float64
}{
	{"fruit vegetables", 60, 0.35, 200, 9},
	{"cut flowers", 95, 0.40, 180, 11},
	{"flowering pot plants", 80, 0.30, 120, 8},
	{"soil-grown vegetables", 160, 1.0, 250, 16},
	{"most crops (headline)", 500, 0.9, 600, 12},
}

// New invents site n; the same n gives the same site.
func New(n int) Site {
	rng := rand.New(rand.NewPCG(uint64(n), 0x5eed))
	t, c := types[n%len(types)], crops[n%len(crops)]
	vary := func(x, sd float64) float64 { return x * math.Exp(sd*rng.NormFloat64()) }
	s := Site{
		Name: fmt.Sprintf("%d %s, %s", n, t.name, c.name), Seed: uint64(n) + 1000, LampType: t.name,
		Burn: vary(c.burn, 0.1), Threshold: t.threshold, Fixed: t.fixed, Rooms: 3, PerRoom: 20 + rng.IntN(12),
		PPFD: c.ppfd, Area: t.ppf / c.ppfd, PowerW: t.power,
		Fade: vary(t.fade, 0.15), LotSd: 0.2, LampSd: 0.17, Eta: vary(t.eta, 0.15), Beta: t.beta, EtaError: vary(1, 0.15),
		Dirt: 0.02 + 0.06*rng.Float64(), Value: vary(c.value, 0.2), Share: c.share, Crop: c.name,
	}
	v := func(x float64) *float64 { return &x }
	s.Settings = plan.Settings{Currency: "EUR", Site: plan.Terms{
		LampPrice: v(vary(t.price, 0.1)), LabourSpotMin: v(t.spotM), LabourGroupMin: v(t.spotM * 0.5),
		WagePerHour:  v(vary(32, 0.1)),
		LiftPerVisit: v(vary(140, 0.2)), DisposalPerLamp: v(1.5), CleanPerFixture: v(vary(2.2, 0.2)),
		CleanPerRoom:    v(vary(120, 0.2)),
		CropValueM2Year: v(s.Value), CropGroup: s.Crop, LampShare: v(s.Share), LeadLampDays: v(21), GearPrice: v(120),
		LabourGearMin: v(30),
		Work:          []plan.Window{{Weekdays: []string{"mon", "tue", "wed", "thu", "fri"}}},
	}}
	return s
}

// lamp is one lamp life's truth.
type lamp struct {
	slope float64 // level lost per hour
	life  float64 // hours at which it fails
	z     float64 // its forecast's error, in standard deviations
}

// draw gives life n of the fixture, the same under every policy.
func (s Site) draw(room, fixture, n int) lamp {
	lot := rand.New(rand.NewPCG(s.Seed, uint64(room)<<32|uint64(n)<<8|1))
	own := rand.New(rand.NewPCG(s.Seed^0xabcdef, uint64(room)<<40|uint64(fixture)<<16|uint64(n)))
	shared := s.LotSd * lot.NormFloat64()
	return lamp{
		slope: s.Fade * math.Exp(shared+s.LampSd*own.NormFloat64()),
		life:  s.Eta * math.Pow(own.ExpFloat64(), 1/s.Beta),
		z:     own.NormFloat64(),
	}
}
