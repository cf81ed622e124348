// Package setting says what is wrong with a value that a person declared,
// without knowing the file it came from.
package setting

// Fault is one declared value that cannot be used.
type Fault struct {
	Path string // below the group that was checked, e.g. "run_up.hps-de"
	What string // what is wrong
	Do   string // what would mend it
}
