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
	switch s.values {
	case 0:
		return ""
	case s.all:
		return "All of these values are from simulated runs: they are no evidence about units that exist."
	}
	return fmt.Sprintf("%d of the %d values are from simulated runs. Counted among the others, they leave no evidence about units that exist.", s.values, s.all)
}

// field puts it before what a program is told, where anything was simulated.
func (s simulation) field(f fields) fields {
	if s.values > 0 {
		f = append(fields{{name: "simulated", value: true}}, f...)
	}
	return f
}
