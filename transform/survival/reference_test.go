package survival

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// table reads a CSV of testdata as rows by column name.
func table(t testing.TB, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]string
	for _, r := range all[1:] {
		m := map[string]string{}
		for i, h := range all[0] {
			m[h] = r[i]
		}
		rows = append(rows, m)
	}
	return rows
}

// num reads a number; R's NA is NaN.
func num(t testing.TB, s string) float64 {
	t.Helper()
	if s == "NA" {
		return math.NaN()
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func near(t testing.TB, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Max(1e-12, math.Abs(want))) {
		t.Errorf("%s: got %.12g, want %.12g", what, got, want)
	}
}

// sets gives the units of testdata/units.csv by set and group.
func sets(t testing.TB) map[[2]string][]Unit {
	t.Helper()
	m := map[[2]string][]Unit{}
	for _, r := range table(t, "units.csv") {
		k := [2]string{r["set"], r["group"]}
		m[k] = append(m[k], Unit{Entry: num(t, r["entry"]), Exit: num(t, r["exit"]), Failed: r["failed"] == "1"})
	}
	return m
}
