package record

// RelayMove is one change of the relay pattern.
type RelayMove struct {
	AtUS int64 `json:"at_us"`
	// Condition is the one that was reached.
	Condition string `json:"condition"`
	// On and Off name the coils that changed, Coils all that are energised
	// afterwards.
	On    []string `json:"on,omitempty"`
	Off   []string `json:"off,omitempty"`
	Coils []string `json:"coils,omitempty"`
}

// Waveform is a channel over time.
type Waveform struct {
	Name    string `json:"name"`
	Title   string `json:"title"`
	Channel string `json:"channel"`
	// Unit is the symbol of the samples' SI unit, as in Value.
	Unit string `json:"unit"`
	// StartUS is the instant of the first sample, IntervalUS the nominal
	// distance between two.
	StartUS    int64 `json:"start_us"`
	IntervalUS int64 `json:"interval_us"`
	// AtUS gives each sample's instant where the spacing is uneven; it is
	// absent, or as long as Samples and not decreasing.
	AtUS       []int64     `json:"at_us,omitempty"`
	Samples    []float64   `json:"samples"`
	Thresholds []Threshold `json:"thresholds,omitempty"`
	Marks      []Mark      `json:"marks,omitempty"`
}

// Threshold is a level drawn into a waveform, in the waveform's unit.
type Threshold struct {
	Label string  `json:"label"`
	Value float64 `json:"value"`
}

// Mark is an instant drawn into a waveform.
type Mark struct {
	Label string `json:"label"`
	AtUS  int64  `json:"at_us"`
}

// Instant returns the instant of sample i, in microseconds after the start
// of the run. It panics like an index expression when i is outside Samples
// and AtUS is given.
func (w Waveform) Instant(i int) int64 {
	if len(w.AtUS) > 0 {
		return w.AtUS[i]
	}
	return w.StartUS + int64(i)*w.IntervalUS
}
