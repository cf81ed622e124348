package level

import "wane/transform/fleet"

// Thresholds says under which level a lamp is to be replaced: a room's own
// value before its lamp type's, that before the default.
type Thresholds struct {
	Default   float64                    `yaml:"default"`
	LampTypes map[fleet.LampType]float64 `yaml:"lamp_types"`
	Rooms     map[string]Threshold       `yaml:"rooms"`
}

// Threshold is a level (share of the lamp's own baseline) or an absolute PPFD
// in umol/m2/s; one of the two.
type Threshold struct {
	Level float64 `yaml:"level"`
	PPFD  float64 `yaml:"ppfd"`
}

// Of gives the level under which a lamp of this type in this room is to be
// replaced, or the PPFD where the room has an absolute one.
func (t Thresholds) Of(room string, typ fleet.LampType) Threshold {
	if th, ok := t.Rooms[room]; ok {
		return th
	}
	if l, ok := t.LampTypes[typ]; ok {
		return Threshold{Level: l}
	}
	return Threshold{Level: t.Default}
}
