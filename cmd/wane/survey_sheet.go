package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"wane/transform/survey"
)

func surveySheetCommand(env) *cobra.Command {
	c := &cobra.Command{
		Use:   "sheet",
		Short: "print a sheet to carry: positions numbered, conditions, cautions",
		Long: `sheet prints a survey sheet for pencil and ladder: what to set up, what to be
careful of, the conditions to write down and the numbered spots. Grid, height
and conditions are those that site.yaml declares under survey:.`,
		Example: "  wane survey sheet --fixture LED1-A01",
		Args:    noArgs,
		RunE:    func(c *cobra.Command, _ []string) error { return runSurveySheet(c) },
	}
	c.Flags().String("fixture", "", "fixture to print on it")
	c.Flags().Int("rows", 0, "rows of the grid (default: that of site.yaml)")
	c.Flags().Int("columns", 0, "columns of the grid (default: that of site.yaml)")
	return c
}

func runSurveySheet(c *cobra.Command) error {
	o, err := openSite(c)
	if err != nil {
		return err
	}
	id, err := fixtureFlag(c, o)
	if err != nil {
		return err
	}
	rig := o.Config.Rig()
	spec := survey.SheetSpec{Site: o.Config.Name, Fixture: id, Rows: rig.Rows, Cols: rig.Columns, HeightM: rig.HeightM,
		Geometry: rig.Geometry, Declared: rig.Declared, Reference: rig.Reference}
	for flag, into := range map[string]*int{"rows": &spec.Rows, "columns": &spec.Cols} {
		if c.Flags().Changed(flag) {
			if *into, err = c.Flags().GetInt(flag); err != nil {
				return err
			}
		}
	}
	text, err := survey.Sheet(spec)
	if err != nil {
		return usageError{err}
	}
	_, err = fmt.Fprint(c.OutOrStdout(), text)
	return err
}
