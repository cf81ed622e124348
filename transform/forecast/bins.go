package forecast

// Seasoning is the run-hours before which a discharge lamp's output is not yet
// settled (IES LM-54), and no daily value is used.
const Seasoning = 100

// binDays is the length of a bin; all lamps share the grid.
const binDays = 7

func floorDiv(a, b int) int {
	q := a / b
	if a%b != 0 && (a < 0) != (b < 0) {
		q--
	}
	return q
}

func abs(x int) int {
	if x < 0 {
		return -x
	}
	return x
}

// LeastDays is the fewest daily values that make a bin. A median of one is no
// guard against a spike, but it weighs little, and at a site read once a month it
// is all there is; the fit weighs down what lies apart.
const LeastDays = 1

// WeekOf is the first day of the bin that a day falls in.
func WeekOf(day int32) int32 { return int32(floorDiv(int(day), binDays) * binDays) }
