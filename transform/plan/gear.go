package plan

import "fmt"

// gearShare is the share of a loss of light that missing power must explain
// before the gear is suspected, and gearLoss the least loss looked at. Both are
// judgements of this program, without a source.
const (
	gearShare = 0.6
	gearLoss  = 0.10
)

// fault gives the urgent work of a lamp that is dark, cycles, or whose gear is
// suspected; nil where nothing is.
func (k *lampCase) fault() *action {
	a := &action{room: k.Room, lampType: k.LampType, lamp: k, do: SpotRelamp, cost: k.spot, urgent: true, needsLamp: true}
	a.lossYear = k.v.perHour * k.BurnPerDay * daysPerYear
	if a.lossYear == 0 {
		a.lossYear = 1
	}
	gear := func(why string) *action {
		a.do, a.why, a.needsLamp, a.needsGear = ReplaceGear, why, false, true
		a.cost, k.missing = k.t.gearWork()
		return a
	}
	switch {
	case k.GearFault != "":
		return gear(k.GearFault)
	case k.RecentFail >= 2:
		return gear(fmt.Sprintf("%d lamps failed here within 1,000 run-hours: the gear is more likely at fault than each of the lamps", k.RecentFail))
	case k.Status == "dark":
		a.why = "dark: it gives no light. If a new lamp stays dark, the gear is at fault"
		if k.LampType == "led" {
			a.why = "dark: it gives no light. Check the driver before the LED modules"
		}
		return a
	case k.Cycling:
		a.why = "goes out and comes back by itself: the end of a discharge lamp's life; its ballast and igniter wear with each re-strike"
		return a
	}
	if k.powerExplains() {
		w := gear(fmt.Sprintf("draws %.0f of %.0f W, which explains most of its loss of light: check supply and set point first, then the gear", k.PowerW, k.RatedW))
		w.urgent = false
		w.lossYear = k.waiting(0)
		return w
	}
	return nil
}

// powerExplains says whether the light is gone because the power is.
func (k *lampCase) powerExplains() bool {
	if !(k.PowerW > 0) || !(k.RatedW > 0) || !k.Level.Known() {
		return false
	}
	loss, short := 1-k.Level.Centre, 1-k.PowerW/k.RatedW
	return loss >= gearLoss && short >= gearShare*loss
}
