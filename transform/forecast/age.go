package forecast

import (
	"math"
	"sort"
)

// The ageing law of one lamp, in ln output relative to 100 h. Hours enter as
// x = h/10^4.
const x0 = Seasoning / 1e4

// basis gives the regressors of S, Q and E at h run-hours. The loss S x^(1+q)
// is linear in S and Q = S (q - power) near q = power, where power is the
// lamp type's present estimate:
//
//	g1 = x^(1+power) - x0^(1+power),  g2 = x^(1+power) ln x - x0^(1+power) ln x0
func basis(h, tau, power float64) (g1, g2, g3 float64) {
	a := ageOf(h, tau)
	return a.basis(power, math.Exp((1+power)*lnX0))
}

// age is what of the regressors at some run-hours depends on them alone.
type age struct{ lnX, g3 float64 }

func ageOf(h, tau float64) age {
	return age{math.Log(max(h, 1) / 1e4), math.Exp(-Seasoning/tau) - math.Exp(-h/tau)}
}

// basis gives the regressors; p0 is x0^(1+power).
func (a age) basis(power, p0 float64) (g1, g2, g3 float64) {
	p := math.Exp((1 + power) * a.lnX)
	return p - p0, p*a.lnX - p0*lnX0, a.g3
}

var lnX0 = math.Log(x0)

// wanderCov is the covariance of the integral of an Ornstein-Uhlenbeck rate of
// unit variance and memory m between its values at s and t (all in units of
// 10^4 h, counted from 100 h). For s = t it is 2m(s - m(1-exp(-s/m))).
func wanderCov(s, t, m float64) float64 {
	if s > t {
		s, t = t, s
	}
	return m * (2*s - m*(1-math.Exp(-s/m)-math.Exp(-t/m)+math.Exp(-(t-s)/m)))
}

// knots of a lamp's ageing irregularity: hours, x from 100 h. Where the life
// was watched from near its beginning the first hat starts from a value of
// nil at 100 h, which is known and has no column.
type knots struct {
	x    []float64
	zero bool // a hat begins at x = 0
}

const (
	knotHours = 2500
	maxKnots  = 14
)

func placeKnots(first, last float64) knots {
	lo, hi := (first-Seasoning)/1e4, (last-Seasoning)/1e4
	zero := lo < knotHours/1e4
	if zero {
		lo = 0
	}
	n := int(math.Ceil((hi - lo) * 1e4 / knotHours))
	n = max(1, min(n, maxKnots))
	step := (hi - lo) / float64(n)
	if step < 200/1e4 {
		step = 200 / 1e4
	}
	k := knots{zero: zero}
	if !zero {
		k.x = append(k.x, lo)
	}
	for i := 1; i <= n; i++ {
		k.x = append(k.x, lo+step*float64(i))
	}
	return k
}

// hat gives the index of the lower knot (-1: the known nil at 100 h) and the
// weights of it and the next at x.
func (k knots) hat(x float64) (lower int, wl, wu float64) {
	base := 0.0
	if !k.zero {
		base = k.x[0]
	}
	n := len(k.x)
	step := k.x[n-1] - base
	m := n
	if !k.zero {
		m = n - 1
	}
	if m == 0 {
		return 0, 1, 0
	}
	step /= float64(m)
	p := (x - base) / step
	if p <= 0 {
		p = 0
	}
	i := int(p)
	if i >= m {
		i = m - 1
	}
	f := p - float64(i)
	if f > 1 {
		f = 1
	}
	if k.zero {
		i--
	}
	return i, 1 - f, f
}

// soil follows one fixture's dirt: 0 clean, 1 as dirty as it gets, with its
// derivatives by ln of the time constant, by the share a cleaning leaves, and by how much
// of a cleaning the steps are that may be one.
type soil struct {
	day    int // of the last event
	v      soiling
	events []Clean
	d      DirtDefaults
	next   int
	asOf   int
	wiped  float64 // as how much of a cleaning a step counts that may be one
}

type soiling struct{ level, byDays, byLeft, byWiped float64 }

func newSoil(l *Lamp, d DirtDefaults, asOf int) soil {
	return soil{day: l.Hung, events: l.Cleanings, d: d, asOf: asOf}
}

// cleanPerhaps is a step that may have been a cleaning: see stepWiped.
const cleanPerhaps = "perhaps"

// perhaps adds days on which all may have been cleaned, and as how much of a cleaning
// each counts.
func (s soil) perhaps(days []int, wiped float64) soil {
	if len(days) == 0 {
		return s
	}
	s.events = append([]Clean(nil), s.events...)
	for _, d := range days {
		s.events = append(s.events, Clean{Day: d, Part: cleanPerhaps})
	}
	sort.SliceStable(s.events, func(i, j int) bool { return s.events[i].Day < s.events[j].Day })
	s.wiped = wiped
	return s
}

// at gives the dirt on a day; days must not fall.
func (s *soil) at(day int) float64 { return s.on(day).level }

// on gives the dirt with its derivatives.
func (s *soil) on(day int) soiling {
	for s.next < len(s.events) && s.events[s.next].Day <= day && s.events[s.next].Day <= s.asOf {
		e := s.events[s.next]
		s.next++
		if e.Day < s.day {
			continue
		}
		v, left := s.grow(e.Day), s.left(e.Part)
		byLeft, byWiped := left/s.d.LeftAll, 0.0
		if e.Part == cleanPerhaps {
			byLeft, byWiped = s.wiped, s.d.LeftAll-1
		}
		s.v = soiling{v.level * left, v.byDays * left, v.byLeft*left + v.level*byLeft, v.byWiped*left + v.level*byWiped}
		s.day = e.Day
	}
	return s.grow(day)
}

func (s *soil) grow(day int) soiling {
	if day <= s.day {
		return s.v
	}
	t := float64(day-s.day) / s.d.Days
	e := math.Exp(-t)
	return soiling{1 + (s.v.level-1)*e, s.v.byDays*e + (s.v.level-1)*e*t, s.v.byLeft * e, s.v.byWiped * e}
}

func (s *soil) left(part string) float64 {
	switch part {
	case CleanRelamp:
		return s.d.LeftNew
	case cleanPerhaps:
		return 1 - s.wiped*(1-s.d.LeftAll)
	case CleanLamp, CleanReflector:
		return s.d.LeftPart
	default:
		return s.d.LeftAll
	}
}
