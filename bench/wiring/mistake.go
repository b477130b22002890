package wiring

import (
	"fmt"
	"strings"
)

// Place says where in a rig something stands, as the file that describes it
// would: kind and name of the block, then attribute, number or inner block.
// Examples are relay/k_leg1/coil and condition/legacy-a/on/2.
type Place string

// At makes a place of its parts.
func At(parts ...any) Place {
	var b strings.Builder
	for i, p := range parts {
		if i > 0 {
			b.WriteByte('/')
		}
		fmt.Fprint(&b, p)
	}
	return Place(b.String())
}

// Parent is the place that a place is part of; the empty Place is the rig.
func (p Place) Parent() Place {
	i := strings.LastIndexByte(string(p), '/')
	return p[:max(i, 0)]
}

// Mistake is one thing that is wrong with a rig.
type Mistake struct {
	Place Place
	// Nest is the number of the nest that it is seen from; 0 for any.
	Nest int
	// Summary is a fixed text; Detail says what was found and what would be
	// right.
	Summary, Detail string
	// Name and Known are set where a name was not found among the known ones.
	Name  string
	Known []string
}

// Error gives place, summary and detail in one line.
func (m Mistake) Error() string {
	return fmt.Sprintf("%s: %s: %s", m.Place, m.Summary, m.Detail)
}

// checker collects mistakes.
type checker struct {
	rig *Rig
	out []Mistake
}

func (c *checker) add(at Place, summary, detail string, args ...any) {
	c.out = append(c.out, Mistake{Place: at, Summary: summary, Detail: fmt.Sprintf(detail, args...)})
}

// unknown reports a name that nothing of its sort has.
func (c *checker) unknown(at Place, sort, name string, known []string) {
	c.out = append(c.out, Mistake{
		Place: at, Summary: "unknown " + sort, Detail: fmt.Sprintf("The rig has no %s %q.", sort, name),
		Name: name, Known: known,
	})
}
