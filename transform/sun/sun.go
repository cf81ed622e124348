// Package sun says how high the sun stands, to tell lamplight from daylight in
// a greenhouse: a reading counts as lamplight only while the sun is well below
// the horizon.
//
// The equations are those of the NOAA solar calculator, after Meeus,
// Astronomical Algorithms (2nd ed. 1998), chapter 25: good to about 0.01
// degrees between 1950 and 2050, a hundred times better than needed here.
// Refraction is left out: it lifts the sun by half a degree at the horizon and
// by nothing that matters below it.
package sun

import "math"

const degree = math.Pi / 180

// Elevation is the geometric height of the sun's centre above the horizon,
// degrees, at an instant (microseconds since 1970 UTC) and a place (degrees
// north and east).
func Elevation(at int64, latitude, longitude float64) float64 {
	decl, eqTime := position(at)
	minutes := math.Mod(float64(at)/60e6, 1440) // of the UTC day
	hourAngle := (minutes+eqTime+4*longitude)/4 - 180
	sin := math.Sin(latitude*degree)*math.Sin(decl) +
		math.Cos(latitude*degree)*math.Cos(decl)*math.Cos(hourAngle*degree)
	return math.Asin(math.Max(-1, math.Min(1, sin))) / degree
}

// position gives the sun's declination (radians) and the equation of time
// (minutes).
func position(at int64) (declination, equationOfTime float64) {
	day := float64(at)/86400e6 + 2440587.5 // Julian day
	t := (day - 2451545) / 36525           // Julian centuries since 2000
	l0 := math.Mod(280.46646+t*(36000.76983+t*0.0003032), 360)
	m := (357.52911 + t*(35999.05029-0.0001537*t)) * degree
	e := 0.016708634 - t*(0.000042037+0.0000001267*t)
	centre := math.Sin(m)*(1.914602-t*(0.004817+0.000014*t)) +
		math.Sin(2*m)*(0.019993-0.000101*t) + math.Sin(3*m)*0.000289
	omega := (125.04 - 1934.136*t) * degree
	lambda := (l0 + centre - 0.00569 - 0.00478*math.Sin(omega)) * degree
	tilt := (23 + (26+(21.448-t*(46.815+t*(0.00059-t*0.001813)))/60)/60 + 0.00256*math.Cos(omega)) * degree
	y := math.Pow(math.Tan(tilt/2), 2)
	l := l0 * degree
	eq := y*math.Sin(2*l) - 2*e*math.Sin(m) + 4*e*y*math.Sin(m)*math.Cos(2*l) -
		0.5*y*y*math.Sin(4*l) - 1.25*e*e*math.Sin(2*m)
	return math.Asin(math.Sin(tilt) * math.Sin(lambda)), 4 * eq / degree
}
