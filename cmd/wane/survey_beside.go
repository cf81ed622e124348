package main

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"wane/ingest/register"
	"wane/ingest/site"
	"wane/transform/survey"
)

// keepBeside writes what the flags and the sheet say of conditions into
// register/surveys.csv, before the sheet is taken in, so that no survey stands
// without its own.
func (o *opened) keepBeside(c *cobra.Command, list []survey.Survey) error {
	row, spots, err := flagsBeside(c)
	if err != nil {
		return err
	}
	if len(list) > 1 && (len(row) > 0 || len(spots) > 0) {
		return usagef("the sheet holds %d surveys; take them one by one with --grid, or write their conditions into %s",
			len(list), register.SurveysFile)
	}
	path := o.folder.Path(filepath.FromSlash(register.SurveysFile))
	old, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("read %s: %w", register.SurveysFile, err)
	}
	next := old
	for _, s := range list {
		rows, err := rowsBeside(s, row, spots)
		if err != nil {
			return err
		}
		if next, err = register.AddSurvey(next, s.ID, rows); err != nil {
			return usagef("not taken in: %v", err)
		}
	}
	if bytes.Equal(next, old) {
		return nil
	}
	return site.WriteFile(path, next)
}

// flagsBeside gives what the flags say of conditions, by column, and the spots
// that another sensor read.
func flagsBeside(c *cobra.Command) (row map[string]string, spots []string, err error) {
	row = map[string]string{}
	for flag, column := range map[string]string{"supply": "supply_v", "power": "power_w", "warm-up": "warm_up_min",
		"ambient": "ambient_c", "spacing": "spacing_m", "footprint": "footprint_m2"} {
		if !c.Flags().Changed(flag) {
			continue
		}
		v, err := c.Flags().GetFloat64(flag)
		if err != nil {
			return nil, nil, err
		}
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, nil, usagef("--%s %g is not a number", flag, v)
		}
		row[column] = strconv.FormatFloat(v, 'f', -1, 64)
	}
	for _, flag := range []string{"sensor", "note"} {
		if v, _ := c.Flags().GetString(flag); v != "" {
			row[flag] = v
		}
	}
	if spots, err = c.Flags().GetStringArray("spots"); err != nil {
		return nil, nil, err
	}
	return row, spots, nil
}

// rowsBeside gives the rows of register/surveys.csv for one survey: what its
// sheet says, the flags before it.
func rowsBeside(s survey.Survey, flags map[string]string, spots []string) ([]map[string]string, error) {
	row := saidBeside(s)
	maps.Copy(row, flags)
	if len(row) == 0 && len(spots) == 0 {
		return nil, nil
	}
	row["survey"] = s.ID
	rows := []map[string]string{row}
	for _, spec := range spots {
		which, sensor, ok := strings.Cut(spec, "=")
		if !ok || strings.TrimSpace(sensor) == "" {
			return nil, usagef(`--spots %q does not say which sensor; write spots=sensor such as "11-15=Q2"`, spec)
		}
		nums, err := register.SpotList(which)
		if err != nil {
			return nil, usagef("--spots %q: %v", spec, err)
		}
		rws, cols := s.Size()
		for _, k := range nums {
			if k > rws*cols {
				return nil, usagef("--spots %q: the grid of %d x %d has no spot %d", spec, rws, cols, k)
			}
		}
		rows = append(rows, map[string]string{"survey": s.ID, "spots": strings.TrimSpace(which),
			"sensor": strings.TrimSpace(sensor)})
	}
	return rows, nil
}

// saidBeside is what a survey's sheet says of its conditions, by column.
func saidBeside(s survey.Survey) map[string]string {
	row := map[string]string{}
	text := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	for column, v := range map[string]*float64{
		"supply_v": s.Conditions.SupplyV, "power_w": s.Conditions.PowerW, "warm_up_min": s.Conditions.WarmUpMin,
		"ambient_c": s.Conditions.AmbientC,
	} {
		if v != nil {
			row[column] = text(*v)
		}
	}
	if s.Conditions.Sensor != "" {
		row["sensor"] = s.Conditions.Sensor
	}
	if s.Geometry.SpacingM > 0 {
		row["spacing_m"] = text(s.Geometry.SpacingM)
	}
	for column, at := range map[string][]float64{"rows_at_m": s.Geometry.RowAtM, "columns_at_m": s.Geometry.ColAtM} {
		if len(s.Geometry.RowAtM) > 0 && len(s.Geometry.ColAtM) > 0 {
			var all []string
			for _, v := range at {
				all = append(all, text(v))
			}
			row[column] = strings.Join(all, " ")
		}
	}
	return row
}
