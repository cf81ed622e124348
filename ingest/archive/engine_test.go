package archive

import (
	"database/sql"
	"fmt"
	"path/filepath"
	"testing"

	_ "github.com/marcboeker/go-duckdb"
)

// Another engine reads the same files without us: the folders as a hive-style
// data set, the columns by their logical types.
func TestAnotherEngineReadsTheArchive(t *testing.T) {
	dir, _ := settled(t)
	db, err := sql.Open("duckdb", "?autoinstall_known_extensions=false&autoload_known_extensions=false")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	ask := func(query string, args ...any) string {
		t.Helper()
		var s string
		if err := db.QueryRow("SELECT ("+query+")::VARCHAR", args...).Scan(&s); err != nil {
			t.Fatalf("%s: %v", query, err)
		}
		return s
	}
	from := fmt.Sprintf("read_parquet('%s', hive_partitioning = true)",
		filepath.Join(dir, Readings, "*", "*", "scale=2", "*.parquet"))
	if got := ask("SELECT count(*) FROM " + from); got != "97" {
		t.Errorf("%s readings of scale 2", got)
	}
	if got := ask("SELECT list(DISTINCT month || ' ' || day ORDER BY month || ' ' || day) FROM " +
		from); got != "[2026-10 all, 2026-11 01]" && got != "[2026-10 all, 2026-11 01, 2026-11 02]" {
		t.Errorf("partitions %s", got)
	}
	for column, want := range map[string]string{"sensor": "VARCHAR", "channel": "VARCHAR", "value": "DECIMAL(18,2)",
		"conflict": "BOOLEAN", "time": "TIMESTAMP WITH TIME ZONE"} {
		if got := ask("SELECT any_value(typeof(" + column + ")) FROM " + from); got != want {
			t.Errorf("%s is %s, want %s", column, got, want)
		}
	}
	if got := ask("SELECT max(value) FROM " + from + " WHERE sensor = 's2' AND channel = 'c1'"); got != "814.11" {
		t.Errorf("the greatest value of s2 is %s", got)
	}
	if got := ask("SELECT epoch_us(min(time)) FROM " + from); got != fmt.Sprint(noon.UnixMicro()-27*dayMicros) {
		t.Errorf("the first time is %s", got)
	}
	if got := ask("SELECT sum(rows - stored - duplicate - quarantined) FROM read_parquet(?)",
		filepath.Join(dir, Files, "*", "*", "*.parquet")); got != "0" {
		t.Errorf("by SQL, %s rows are unaccounted for", got)
	}
	if got := ask("SELECT string_agg(DISTINCT code, ',') FROM read_parquet(?)",
		filepath.Join(dir, Quarantine, "*", "*", "*.parquet")); got != "bad-line" {
		t.Errorf("codes %s", got)
	}
}
