package statistics

import "fmt"

// simulation is how many of the values that were read come from records of a twin,
// which are no evidence. A file does not tell; a ledger does.
type simulation struct{ values, all int }

// see takes the next value that counts.
func (s *simulation) see(twin bool) {
	s.all++
	if twin {
		s.values++
	}
}

// words say so; empty where nothing was simulated, or nobody can tell.
func (s simulation) words() string {
	return Simulated(s.values, s.all, "values are from simulated runs")
}

// Simulated says that some of all things are no evidence; empty where none is. What
// they are and where they come from stands in which, "runs were simulated".
func Simulated(some, all int, which string) string {
	switch some {
	case 0:
		return ""
	case all:
		return "All of these " + which + ": they are no evidence about units that exist."
	}
	return fmt.Sprintf("%d of these %d %s. Counted among the others, they leave no evidence about units that exist.", some, all, which)
}

// field puts it before what a program is told, where anything was simulated.
func (s simulation) field(f fields) fields {
	if s.values > 0 {
		f = append(fields{{name: "simulated", value: true}}, f...)
	}
	return f
}
