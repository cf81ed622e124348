package survey

import (
	"fmt"
	"sort"
	"time"
	"wane/transform/estimate"
)

// MaxSide bounds rows and columns of a grid; a larger number is a typing error.
const MaxSide = 200

// Survey is one grid of PPFD readings under one fixture.
type Survey struct {
	ID      string
	TakenAt time.Time
	Fixture string
	HeightM float64 // from the light's lower edge to the sensor plane, m; 0 = not given
	// Rows and Cols declare the grid; 0 means the highest row and column read.
	Rows, Cols int
	Spots      []Spot
	Conditions Conditions
	Geometry   Geometry
}

// Spot is one reading. A spot that was not read is left out of Survey.Spots.
type Spot struct {
	Row, Col int     // from 1
	PPFD     float64 // umol/m2/s
	Sensor   string  // only where it differs from Conditions.Sensor
}

// Conditions are what stood beside the sheet; nil or empty means not written down.
type Conditions struct {
	SupplyV   *float64 // V at the fixture
	AmbientC  *float64 // degrees Celsius
	WarmUpMin *float64 // minutes at full power before the first reading
	PowerW    *float64 // W into the fixture
	Sensor    string   // serial or name of the sensor
}

// Geometry says where the spots lie, as far as declared. Positions win over
// spacing; area wins over both for the footprint.
type Geometry struct {
	SpacingM float64 // even grid: distance between neighbouring spots, m
	// RowAtM and ColAtM are the positions of the rows and of the columns in
	// metres, rising, for an uneven grid; each row and column is a straight line.
	RowAtM, ColAtM []float64
	// DepthM (across the rows) and WidthM (across the columns) are the floor's
	// edges, the floor lying centred under the grid; 0 = half a spacing beyond
	// the outermost spots.
	DepthM, WidthM float64
	FootprintM2    float64 // declared area, m2
}

// Size gives rows and columns: the declared ones, or the highest read.
func (s Survey) Size() (rows, cols int) {
	rows, cols = s.Rows, s.Cols
	for _, p := range s.Spots {
		rows, cols = max(rows, p.Row), max(cols, p.Col)
	}
	return rows, cols
}

// Number is the number of a spot on the sheet: row by row from 1.
func Number(row, col, cols int) int { return (row-1)*cols + col }

// Edge says whether a spot lies on the perimeter of a grid.
func Edge(row, col, rows, cols int) bool {
	return row == 1 || col == 1 || row == rows || col == cols
}

// Missing gives the numbers of the spots not read, in order.
func (s Survey) Missing() []int {
	rows, cols := s.Size()
	seen := make(map[int]bool, len(s.Spots))
	for _, p := range s.Spots {
		seen[Number(p.Row, p.Col, cols)] = true
	}
	var out []int
	for n := 1; n <= rows*cols; n++ {
		if !seen[n] {
			out = append(out, n)
		}
	}
	return out
}

// Sensors gives the names of the sensors used, in order; a spot without its
// own counts for Conditions.Sensor.
func (s Survey) Sensors() []string {
	set := map[string]bool{}
	for _, p := range s.Spots {
		set[s.sensorOf(p)] = true
	}
	out := make([]string, 0, len(set))
	for k := range set {
		out = append(out, k)
	}
	sort.Strings(out)
	return out
}

func (s Survey) sensorOf(p Spot) string {
	if p.Sensor != "" {
		return p.Sensor
	}
	return s.Conditions.Sensor
}

// Check refuses what cannot be a survey, naming the spot and the remedy.
func (s Survey) Check() error {
	name := s.name()
	if len(s.Spots) == 0 {
		return fmt.Errorf("%s: no spot was read; a survey needs at least one reading", name)
	}
	if s.Rows < 0 || s.Cols < 0 {
		return fmt.Errorf("%s: %d rows and %d columns: a grid has at least one of each; give 0 to take them from the spots",
			name, s.Rows, s.Cols)
	}
	if !estimate.Finite(s.HeightM) || s.HeightM < 0 {
		return fmt.Errorf("%s: height %v m is not a distance; give metres from fixture to sensor", name, s.HeightM)
	}
	type rc struct{ r, c int }
	seen := map[rc]bool{}
	sum := 0.0
	for _, p := range s.Spots {
		where := fmt.Sprintf("%s: row %d column %d", name, p.Row, p.Col)
		if p.Row < 1 || p.Col < 1 || p.Row > MaxSide || p.Col > MaxSide {
			return fmt.Errorf("%s: rows and columns count from 1 to %d", where, MaxSide)
		}
		if s.Rows > 0 && p.Row > s.Rows || s.Cols > 0 && p.Col > s.Cols {
			return fmt.Errorf("%s: outside the declared grid of %d x %d; correct the spot or the grid", where, s.Rows, s.Cols)
		}
		if !estimate.Finite(p.PPFD) {
			return fmt.Errorf("%s: %v is not a number; leave a spot that was not read out", where, p.PPFD)
		}
		if p.PPFD < 0 {
			return fmt.Errorf("%s: %v umol/m2/s is negative; no light reads 0: check the sensor's zero with its cap on and read the spot again, or leave it out", where, p.PPFD)
		}
		if seen[rc{p.Row, p.Col}] {
			return fmt.Errorf("%s: read twice; keep one reading, or enter the second round as a survey of its own", where)
		}
		seen[rc{p.Row, p.Col}] = true
		sum += p.PPFD
	}
	if sum == 0 {
		return fmt.Errorf("%s: every spot reads 0: the fixture was dark or the sensor capped; there is nothing to compare",
			name)
	}
	if s.Rows > MaxSide || s.Cols > MaxSide {
		return fmt.Errorf("%s: grid of %d x %d is larger than %d a side", name, s.Rows, s.Cols, MaxSide)
	}
	if err := s.Conditions.check(name); err != nil {
		return err
	}
	return s.Geometry.check(s)
}

func (c Conditions) check(name string) error {
	for _, v := range []struct {
		what string
		p    *float64
		min  float64
	}{
		{"supply in V", c.SupplyV, 0}, {"ambient in degrees Celsius", c.AmbientC, -90},
		{"warm-up in minutes", c.WarmUpMin, 0}, {"power in W", c.PowerW, 0},
	} {
		if v.p != nil && (!estimate.Finite(*v.p) || *v.p < v.min) {
			return fmt.Errorf("%s: %s %v is not possible; correct it or leave it empty", name, v.what, *v.p)
		}
	}
	return nil
}

// name is how messages speak of the survey.
func (s Survey) name() string {
	if s.ID == "" {
		return "survey without a name"
	}
	return "survey " + s.ID
}
