package twin

import "time"

// Truth looks into the circuit. It is for tests and summaries: no bench has
// such a thing.
type Truth struct{ t *Twin }

// Truth returns the inspector.
func (t *Twin) Truth() Truth { return Truth{t} }

// Now returns the instant up to which the twin has been played.
func (u Truth) Now() time.Duration { return u.t.now }
