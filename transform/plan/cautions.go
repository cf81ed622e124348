package plan

// Cautions are printed wherever people act on a plan. They rest on 29 CFR
// 1910.333 and NFPA 70E (isolation), 21 CFR 1040.30 and IEC 62471 (optical
// radiation), 40 CFR 273 (mercury lamps), van Bommel 2015 section 10.2 (hot
// re-strike).
func Cautions() []string {
	return []string{
		"Isolate and lock out the circuit before opening a fixture or its gear, and prove it dead. Switches, timers and interlocks are not isolation; capacitors hold their charge.",
		"Let lamps cool: the arc tube of a metal halide lamp runs near 1,000 °C and can burst. Wear eye protection.",
		"A lamp that went out can re-strike by itself while hot, metal halide after 10 to 20 minutes, high-pressure sodium after about one. A dark fixture is not a dead one.",
		"Never run a lamp with a broken outer bulb or a missing shield: its ultraviolet burns eyes and skin. Do not look into bright horticultural fixtures.",
		"Discharge and fluorescent lamps hold mercury: keep old lamps whole in a closed, labelled container, broken ones at once in a sealed one, and hand them over for recycling.",
		"Work at height needs a lift or platform made for it, and a second person.",
		"Local codes and a licensed electrician's judgement come before this plan.",
	}
}
