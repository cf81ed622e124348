package inspect

// Check is something about the trial's result that speaks against the proposal:
// what was read looks like a misreading.
type Check struct {
	What string `json:"what"` // which check
	Why  string `json:"why"`  // what was seen, and what it may come from
	Rows []Row  `json:"rows"` // rows that show it
}

// doubt notes a check that failed.
func (r *Report) doubt(what, why string, rows []Row) {
	r.Checks = append(r.Checks, Check{what, why, rows})
}

// Believable tells whether the trial read something and no check failed.
func (r *Report) Believable() bool { return len(r.Checks) == 0 }
