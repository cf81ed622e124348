package survey

// Note is what stood beside one survey.
type Note struct {
	Survey     string
	Conditions Conditions
	SpacingM   float64 // 0: that of the site
	// RowAtM and ColAtM are where the lines of an uneven grid lie, m, rising; nil:
	// as at the site.
	RowAtM, ColAtM []float64
	FootprintM2    float64        // 0: that of the site
	Sensors        map[int]string // by spot number, where it is not Conditions.Sensor
	File           string         // in which it is written
	Line           int
}
