// Package beside serves the benchmarks that compare two ways on the same data:
// each way runs as a process of its own, so that its peak memory is its own too.
//
// A child's peak starts at its parent's: what makes the data must be a child as
// well.
package beside

import (
	"database/sql"
	"fmt"
	"os"
	"os/exec"
	"syscall"

	_ "github.com/marcboeker/go-duckdb" // the plain way
)

// Cost is what a process used up, with its start and end.
type Cost struct {
	CPU float64 // ms of processor time, which neighbours disturb less than the clock's
	MiB int     // peak memory
}

// Child runs this program again with other arguments and gives what it printed.
func Child(args ...string) (out string, c Cost, err error) {
	self, err := os.Executable()
	if err != nil {
		return "", c, err
	}
	cmd := exec.Command(self, args...)
	cmd.Stderr = os.Stderr
	b, err := cmd.Output()
	if err != nil {
		return "", c, fmt.Errorf("run with %v: %w", args, err)
	}
	c.CPU = float64((cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()).Microseconds()) / 1000
	c.MiB = int(cmd.ProcessState.SysUsage().(*syscall.Rusage).Maxrss / 1024)
	return string(b), c, nil
}

// CopyNight is the plain way to take a night in: DuckDB sorts wide CSV files,
// given as a pattern, into one Parquet file. It checks nothing.
func CopyNight(files, to string) error {
	db, err := sql.Open("duckdb", "?threads=2&autoinstall_known_extensions=false&autoload_known_extensions=false")
	if err != nil {
		return err
	}
	defer db.Close()
	_, err = db.Exec(fmt.Sprintf(`COPY (SELECT * FROM read_csv('%s', header=true, columns={'time':'TIMESTAMP','fixture':'VARCHAR',
		'ppfd':'FLOAT','run_hours':'FLOAT','supply_v':'FLOAT','current_a':'FLOAT','power_w':'FLOAT','ambient_c':'FLOAT','dim_pct':'FLOAT'})
		ORDER BY fixture, time) TO '%s' (FORMAT parquet, COMPRESSION zstd)`, files, to))
	return err
}
