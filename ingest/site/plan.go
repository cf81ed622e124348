package site

import (
	"fmt"
	"slices"
	"strings"

	"wane/ingest/internal/strictyaml"
	"wane/transform/fleet"
)

// checkPlan notes what is wrong with the costs and constraints. A cost that
// cannot be used stops nothing but its own use: the plan is made for the rest,
// and the faults are told with it.
func (c *Config) checkPlan(doc *strictyaml.Doc) {
	c.PlanFaults = nil
	for _, t := range sortedKeys(c.Plan.LampTypes, c.Plan.Stock) {
		if slices.Contains(fleet.LampTypes, fleet.LampType(t)) {
			continue
		}
		for _, at := range []string{"plan.lamp_types." + t, "plan.stock." + t} {
			if doc.Has(at) {
				c.PlanFaults = append(c.PlanFaults, doc.At(at, fmt.Sprintf("%q is not a lamp type, so nothing goes by it", t),
					"known: "+join(fleet.LampTypes)))
			}
		}
	}
	for _, p := range c.Plan.Validate() {
		c.PlanFaults = append(c.PlanFaults, doc.At("plan."+dotted(p.Path), p.What, p.Remedy))
	}
	c.PlanFaults.Sort()
}

// dotted writes the keys of maps as the file's paths have them:
// rooms[R1].lamp_price is rooms.R1.lamp_price. Places in lists stay.
func dotted(path string) string {
	for _, m := range []string{"lamp_types", "rooms", "stock"} {
		if rest, ok := strings.CutPrefix(path, m+"["); ok {
			// the key ends at the last bracket before a field, which no field has but a list's place
			if key, field, ok := strings.Cut(rest, "]."); ok {
				return m + "." + key + "." + field
			}
			return m + "." + strings.TrimSuffix(rest, "]")
		}
	}
	return path
}

func sortedKeys[A, B any](a map[string]A, b map[string]B) []string {
	var out []string
	for k := range a {
		out = append(out, k)
	}
	for k := range b {
		if _, both := a[k]; !both {
			out = append(out, k)
		}
	}
	slices.Sort(out)
	return out
}
