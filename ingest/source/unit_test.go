package source

import "testing"

// TestUnitsOfStandards: the codes of UCUM (ucum.org, case-sensitive) and of SenML
// (RFC 8428, section 12.1; RFC 8798) mean what our words mean.
func TestUnitsOfStandards(t *testing.T) {
	for unit, codes := range map[string][]string{
		"umol/m2/s": {"umol/m2/s", "µmol m⁻² s⁻¹", "umol/(m2.s)", "umol.m-2.s-1", "umol{photons}/m2/s", "umol/m2.s"},
		"lx":        {"lx", "lux", "Lux", "lm/m2", "lm.m-2"},
		"w/m2":      {"W/m2", "W.m-2", "W/m^2", "W/m²", "W m⁻²"},
		"c":         {"Cel", "°C", "degC", "C"},
		"f":         {"[degF]", "°F"},
		"1/s":       {"1/s", "/s", "s-1", "Hz"},
		"%":         {"%", "%RH", "%{RH}"},
		"kwh":       {"kWh", "kW.h"}, "wh": {"W.h", "Wh"},
		"v": {"V"}, "a": {"A"}, "w": {"W"}, "h": {"h"}, "ma": {"mA"}, "kw": {"kW"},
		"mol/m2/d": {"mol/m2/d", "mol/(m2.d)", "mol.m-2.d-1"},
	} {
		for _, code := range codes {
			if got, known := CanonicalUnit(code); got != unit || !known {
				t.Errorf("%s: %q, %v; want %q", code, got, known, unit)
			}
		}
	}
	for _, other := range []string{"MW", "mW", "K", "Pa", "m3", "", "umol/s",
		"W/m3"} { // of a million and a thousandth one name is made: neither is known
		if got, known := CanonicalUnit(other); known {
			t.Errorf("%s is taken for %s", other, got)
		}
	}
}
