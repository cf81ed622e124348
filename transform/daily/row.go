package daily

// Row is a row of table daily: a fixture's day, and which series read its light.
type Row struct {
	Fixture         string
	Sensor, Channel string // of the light
	Conflicting     int    // readings of the light with two values
	Day
}
