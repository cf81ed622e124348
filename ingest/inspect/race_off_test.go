//go:build !race

package inspect

// raced: the race detector runs, which takes ten times as long. It looks for races, not for truth: one content of each layout
// shows it all code.
const raced = false
