package forecast

import "math"

// A lamp that steps by itself is held against the others under its sensor: what they share,
// such as cleanings, drift and the supply, is no step of its own.

// fewBeside is how many other lamps tell what all under a sensor did.
const fewBeside = 3

// setBeside tells each lamp how far the others under its sensor jumped in each week.
func setBeside(by map[int]*jumpsOf) {
	for d, all := range by {
		if len(all.jumps) <= fewBeside {
			continue
		}
		size, _ := shared(all.jumps)
		for _, t := range all.tracks {
			t.beside[d] = size
		}
	}
}

// alone is a lamp's jump in week k against what the others under its sensor did then, and
// its size in errors; none where the lamp did nothing and the others did.
func (t *track) alone(k int) (j jump, z float64) {
	j, ok := t.jumpAt(k, smallSlope)
	own := j.size
	j.size -= t.beside[t.days[k]]
	if !ok || own*j.size <= 0 || math.Abs(own) < stepAlone/2 {
		return j, 0
	}
	return j, j.size / j.sd
}

// besideUsual is how far lamps under the same sensors go beside the others from any week to
// the next, as a share of the error of such a step.
func besideUsual(tracks []*track) float64 {
	var z []float64
	for _, t := range tracks {
		for k := range t.y {
			if j, ok := t.jumpAt(k, smallSlope); ok {
				z = append(z, (j.size-t.beside[t.days[k]])/j.sd)
			}
		}
	}
	if len(z) < 2*stepWeeks {
		return 1
	}
	return max(spreadAbout0(z), leastUsual)
}

// ownSteps finds the steps of one lamp alone, the surest first.
func (t *track) ownSteps(g *groupState, usual float64) []Step {
	var out []Step
	for len(out) < mostSteps {
		best, at := 0.0, -1
		var size jump
		for k := range t.y {
			j, z := t.alone(k)
			if z = math.Abs(z) / usual; math.Abs(j.size) >= stepAlone && z >= stepSure && z > best {
				best, at, size = z, k, j
				size.sd *= usual
			}
		}
		if at < 0 {
			return out
		}
		out = append(out, t.cut(at, size, g.sensors[partAt(t.parts, t.days[at])].in))
	}
	return out
}
