package supply

import (
	"fmt"
	"math"
)

// Connection is one way of putting a meter on a service.
type Connection struct {
	Service string  // such as "208Y/120"
	Between string  // "line to line", "line to neutral", ...
	Nominal float64 // V
	Range   Limit   // published service range, or arithmetic on one
	// prior is how common it is where nothing is known: a choice of this program.
	prior float64
}

// Label names it in words.
func (c Connection) Label() string {
	return fmt.Sprintf("%s, %s (%.0f V)", c.Service, c.Between, c.Nominal)
}

// Names of the services known here.
const (
	SplitPhase = "120/240 split phase"
	Wye208     = "208Y/120"
	Wye480     = "480Y/277"
	Wye600     = "600Y/347"
	HighLeg    = "240 delta with high leg"
	Wye400     = "230/400"
)

// Connections lists the services known here, each with the ways a single
// voltage reading can be taken on it.
func Connections() []Connection {
	pub := func(nominal, kind string) Limit { l, _ := LimitOf(nominal, kind); return l }
	const state, a = "service, state regulation", "Range A service"
	r3 := math.Sqrt(3)
	highLeg := pub("240", state)
	highLeg.Nominal, highLeg.Min, highLeg.Max = "240 delta, high leg to neutral", highLeg.Min*r3/2, highLeg.Max*r3/2
	highLeg.Source += ", times sqrt(3)/2"
	l400 := pub("230 (EN 50160, 95 % of 10-min means in a week)", "supply")
	l400.Nominal, l400.Min, l400.Max = "400", l400.Min*r3, l400.Max*r3
	l400.Source += ", times sqrt(3)"
	return []Connection{
		{SplitPhase, "leg to neutral", 120, pub("120/240 L-N", state), 1},
		{SplitPhase, "leg to leg", 240, pub("120/240 L-L", state), 1},
		{Wye208, "line to neutral", 120, pub("120/208 L-N", state), 1},
		{Wye208, "line to line", 208, pub("120/208 L-L", state), 1},
		{Wye480, "line to neutral", 277, pub("277/480 L-N", state), 1},
		{Wye480, "line to line", 480, pub("277/480 L-L", state), 1},
		{Wye600, "line to neutral", 347, pub("600Y/347 L-N", a), 1},
		{Wye600, "line to line", 600, pub("600", state), 1},
		{HighLeg, "leg to neutral", 120, pub("120", state), .2},
		{HighLeg, "line to line", 240, pub("240", state), .2},
		{HighLeg, "high leg to neutral", 120 * r3, highLeg, .2},
		{Wye400, "line to neutral", 230, pub("230 (EN 50160, 95 % of 10-min means in a week)", "supply"), .3},
		{Wye400, "line to line", 230 * r3, l400, .3},
	}
}
