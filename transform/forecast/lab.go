package forecast

import "math"

// Laboratory makes an input of test paths read under held conditions, with no
// sensor, dirt or supply to account for: by unit pairs of hours and ln of a quantity
// relative to what was read of it at 0 h, which begins the path, read to noise (ln). Readings
// after cut are left out. Hours are set on by Seasoning, so that the reading at 0 h lies at
// the model's reference. The type's prior is wide: nothing is assumed of its slope but
// that it lies between nil and 60 % in 10,000 h, nor of its bend but that it lies
// between the square root and the square of the hours.
func Laboratory(units []string, paths map[string][][2]float64, cut, noise float64) Input {
	d := QuietDefaults()
	d.Sensor.Noise = noise / 1.5 // inflated by two, see updateInflation
	basis := "laboratory paths: wide on purpose"
	d.Classes = map[string]ClassDefaults{"laboratory": {
		Slope: Prior{.25, .20, basis}, SlopeLot: .05, SlopeLamp: .35, Shape: Prior{0, .4, basis}, ShapeLot: .02,
		ShapeLamp: .05,
		Early:     Prior{0, .002, basis}, EarlyLot: .001, EarlyLamp: .002, Tau: 500, Wander: .25, WanderMem: 1500,
		Ambient: Prior{0, 1e-6, basis}, Basis: basis}}
	in := Input{Defaults: d, AsOf: int(cut) + 10}
	for _, u := range units {
		l := Lamp{Fixture: u, Life: 1, Class: "laboratory", Gear: UnknownGear, Lot: "one", Group: len(in.Groups),
			Threshold: math.Exp(-.1),
			Burn:      Burn{PerDay: 1, Days: 365}}
		for _, p := range paths[u] {
			if p[0] > cut {
				break
			}
			// One hour a day: a bin's week lies well before the next.
			l.Bins = append(l.Bins, Bin{Day: int(p[0]), N: 7, Hours: p[0] + Seasoning, LnOut: p[1], Dim: 1})
			l.HoursNow = p[0] + Seasoning
		}
		in.Lamps = append(in.Lamps, l)
		in.Groups = append(in.Groups, Group{ID: u})
	}
	return in
}
