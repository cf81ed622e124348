package plans

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"

	"wane/ingest/site"
	"wane/transform/plan/export"
)

// Files are the names under which Write puts the plan's exports.
const (
	Calendar  = "plan.ics"
	LampsFile = "plan-lamps.csv"
	OrderFile = "plan-orders.csv"
	WorkFile  = "plan-work.csv"
)

// Write puts the calendar and the tables into dir, which is made where it is
// not there. Each file is replaced as a whole; one whose bytes did not change
// is left alone. name is the site's.
func Write(dir, name string, m *Made) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("make folder of the plan: %w", err)
	}
	for _, f := range []struct {
		name string
		body []byte
	}{
		{Calendar, export.Calendar(m.Result, name)},
		{LampsFile, []byte(export.Lamps(m.Result))},
		{OrderFile, []byte(export.Orders(m.Result))},
		{WorkFile, []byte(export.Work(m.Result))},
	} {
		if err := WriteFile(filepath.Join(dir, f.name), f.body); err != nil {
			return fmt.Errorf("write %s: %w", f.name, err)
		}
	}
	return nil
}

// WriteFile replaces one file, where its bytes changed.
func WriteFile(path string, body []byte) error {
	if old, err := os.ReadFile(path); err == nil && bytes.Equal(old, body) {
		return nil
	}
	return site.WriteFile(path, body)
}
