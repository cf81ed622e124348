package main

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"strconv"

	"gonum.org/v1/gonum/stat"

	"wane/transform/forecast"
)

// laser cuts the published laser paths (Meeker & Escobar 1998, Table C.17) and
// compares forecasts with what followed to 4,000 h.
func laser() error {
	f, err := os.Open("transform/forecast/testdata/gaas_laser.csv")
	if err != nil {
		return err
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		return err
	}
	paths := map[string][][2]float64{}
	var units []string
	for _, r := range rows[1:] {
		h, err1 := strconv.ParseFloat(r[1], 64)
		v, err2 := strconv.ParseFloat(r[2], 64)
		if err1 != nil || err2 != nil {
			return fmt.Errorf("row %v is not numeric", r)
		}
		if paths[r[0]] == nil {
			units = append(units, r[0])
		}
		paths[r[0]] = append(paths[r[0]], [2]float64{h, v})
	}
	for _, cut := range []float64{2000, 3000} {
		in := forecast.Laboratory(units, paths, cut)
		fit, err := forecast.Run(&in, forecast.Options{})
		if err != nil {
			return err
		}
		z := math.Sqrt2 * math.Erfinv(.8)
		var pe, le, pc, lc, crossings float64 // errors: of readings, of crossing hours
		held, n, crossed := 0, 0, ""
		var apart []float64 // by unit, mean error pooled less own line
		for _, p := range fit.Posteriors() {
			path := paths[p.Fixture]
			var x, y []float64
			for _, r := range path {
				if r[0] <= cut {
					x, y = append(x, r[0]), append(y, r[1])
				}
			}
			line, err := forecast.FitLine(x, y)
			if err != nil {
				return err
			}
			peWas, leWas, was := pe, le, n
			for _, r := range path {
				if r[0] <= cut {
					continue
				}
				m, s := p.Output(r[0] + forecast.Seasoning)
				s = math.Hypot(s, forecast.LaboratoryNoise)
				truth := -r[1] / 100
				if math.Abs(truth-m) <= z*s*fit.Defaults().Limits.Allowance {
					held++
				}
				pe += math.Abs(-100*m - r[1])
				le += math.Abs(line.A + line.B*r[0] - r[1])
				n++
			}
			apart = append(apart, ((pe-peWas)-(le-leWas))/float64(n-was))
			if last := path[len(path)-1]; last[1] >= 10 {
				var at float64
				for k := 1; k < len(path); k++ {
					if a, b := path[k-1], path[k]; a[1] < 10 && b[1] >= 10 {
						at = a[0] + (b[0]-a[0])*(10-a[1])/(b[1]-a[1])
						break
					}
				}
				c := p.Cross(math.Exp(-.1), z*fit.Defaults().Limits.Allowance)
				c.Centre, c.Lo, c.Hi = c.Centre-forecast.Seasoning, c.Lo-forecast.Seasoning, c.Hi-forecast.Seasoning
				own := (10 - line.A) / line.B
				pc, lc, crossings = pc+math.Abs(c.Centre-at), lc+math.Abs(own-at), crossings+1
				crossed += fmt.Sprintf("  unit %s: crossed at %.0f h, pooled %.0f (%.0f to %.0f), its own line %.0f\n", p.Fixture, at, c.Centre, c.Lo, c.Hi, own)
			}
		}
		fmt.Printf("laser paths cut at %.0f h: %d later readings, mean error pooled %.3f, own straight lines %.3f points of per cent; 80 %% intervals hold %.0f %%\n%s",
			cut, n, pe/float64(n), le/float64(n), 100*float64(held)/float64(n), crossed)
		mean, sd := stat.MeanStdDev(apart, nil)
		fmt.Printf("  pooled less own lines, by unit: %+.3f ± %.3f (standard error of %d units)\n", mean, sd/math.Sqrt(float64(len(apart))), len(apart))
		fmt.Printf("  mean error of those crossings: pooled %.0f h, own lines %.0f h\n", pc/crossings, lc/crossings)
	}
	return nil
}
