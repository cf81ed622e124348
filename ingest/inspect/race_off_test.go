//go:build !race

package inspect

// raced: the race detector runs, under which matching expressions takes twenty times as long. It looks for races, not for
// truth: one content of every fourth layout shows it enough.
const raced = false
