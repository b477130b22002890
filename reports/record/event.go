package record

// Event is something that happens in a run. The record is the fold of a
// run's events (Fold), and live progress sees the same ones (Feed). An event
// is a value: whoever emitted it changes nothing in it afterwards.
//
// The events are Opened, Asked, Moved, Read, Captured, Answered, Excluded,
// Noted, Faulted, Suspected and Closed; no other package can add one.
type Event interface {
	// apply adds the event to the run that is being folded.
	apply(*Run)
}

// Opened is the first event of every run.
type Opened struct{ Opening }

// Asked says that a check begins. It leaves no trace in the record and is
// there for those who watch.
type Asked struct {
	AtUS int64
	// Check and Title name the check.
	Check, Title string
	// Number counts from 1, Of is how many the scenario holds.
	Number, Of int
}

// Moved says that the relays reached a condition.
type Moved struct{ RelayMove }

// Read says that a channel gave a reading.
type Read struct{ Reading }

// Captured says that a waveform is complete.
type Captured struct{ Waveform }

// Answered says that a check has its answer.
type Answered struct{ Check }

// Excluded says that a check cannot be put to this product.
type Excluded struct{ NotObservable }

// Noted carries an interlock, a re-seat, a control, or another remark.
type Noted struct{ Note }

// Faulted says that the bench failed. The first fault of a run is the one
// that the record keeps; later ones become notes of the kind "bench fault".
type Faulted struct{ BenchFault }

// Suspected carries a finding.
type Suspected struct{ Finding }

// Closed is the last event of every run.
type Closed struct {
	DurationUS int64
	Verdict    Verdict
	Reason     string
	Bin        Bin
}

func (e Opened) apply(r *Run)    { r.Opening = e.Opening }
func (e Asked) apply(*Run)       {}
func (e Moved) apply(r *Run)     { r.Relays = append(r.Relays, e.RelayMove) }
func (e Read) apply(r *Run)      { r.Readings = append(r.Readings, e.Reading) }
func (e Captured) apply(r *Run)  { r.Waveforms = append(r.Waveforms, e.Waveform) }
func (e Answered) apply(r *Run)  { r.Checks = append(r.Checks, e.Check) }
func (e Excluded) apply(r *Run)  { r.NotObservable = append(r.NotObservable, e.NotObservable) }
func (e Noted) apply(r *Run)     { r.Notes = append(r.Notes, e.Note) }
func (e Suspected) apply(r *Run) { r.Suspects = append(r.Suspects, e.Finding) }

func (e Faulted) apply(r *Run) {
	if r.Fault != nil {
		r.Notes = append(r.Notes, Note{e.AtUS, "bench fault", e.What})
		return
	}
	r.Fault = &e.BenchFault
}

func (e Closed) apply(r *Run) {
	r.DurationUS, r.Verdict, r.Reason, r.Bin = e.DurationUS, e.Verdict, e.Reason, e.Bin
}
