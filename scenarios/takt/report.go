package takt

import (
	"fmt"

	"sinkproof/scenarios"
)

// Run is a scenario in one order, as it was seen and as physics has it.
type Run struct {
	Order []string `json:"order"`
	// Windows is "shared" where readings on different chips are taken together.
	Windows scenarios.Windows `json:"windows,omitempty"`
	Mean    Mean              `json:"mean"`
	// Floor is what physics needs for it, FloorSeconds the sum, Over the share
	// by which the mean exceeds that.
	Floor        []Component `json:"floor"`
	FloorSeconds float64     `json:"floor_seconds"`
	Over         float64     `json:"over_floor"`
	// Typical is a run in the middle of all.
	Typical *Timeline `json:"typical"`
}

// Report compares the scenario as it stands with the order that costs least and
// conversion windows shared.
type Report struct {
	Scenario string `json:"scenario"`
	Product  string `json:"product"`
	Rig      string `json:"rig"`
	Units    int    `json:"units"`
	// FaultShare is the assumed share of faulty units, Operation what a relay
	// operation is worth in seconds.
	FaultShare float64 `json:"fault_share"`
	Operation  float64 `json:"operation_seconds"`

	File    Run  `json:"file"`
	Planned Run  `json:"planned"`
	Plan    Plan `json:"plan"`
	// Brief is the plan where after a fail only hazards are asked for; nil where
	// that is so already.
	Brief *Plan `json:"brief,omitempty"`
	// FixedSeconds is what the file's order takes where every wait lasts as long
	// as it may.
	FixedSeconds float64     `json:"fixed_seconds"`
	Fixed        []Component `json:"-"`
	// Differences lists the units that the planned order judged differently.
	Differences []string `json:"differences"`
}

// SavedAgainstFile and SavedAgainstFixed are the shares of time that the planned
// order saves.
func (r Report) SavedAgainstFile() float64 { return 1 - r.Planned.Mean.Seconds/r.File.Mean.Seconds }

// Conditional tells whether the scenario has waits that a fixed one could stand for:
// without any there is nothing to save.
func (r Report) Conditional() bool { return r.FixedSeconds > r.File.FloorSeconds+1e-3 }

// SavedAgainstFixed is the share against fixed waits.
func (r Report) SavedAgainstFixed() float64 { return 1 - r.Planned.Mean.Seconds/r.FixedSeconds }

// NewRun reports what a study has seen of its scenario.
func (r *Rig) NewRun(s *Study) (Run, error) {
	out := Run{Windows: s.scenario.Windows, Typical: s.Typical()}
	for _, x := range s.scenario.Rounds() {
		out.Order = append(out.Order, x.Name)
	}
	var err error
	if out.Mean, err = s.Good(); err != nil {
		return Run{}, fmt.Errorf("scenario %s: %w", s.scenario.Name, err)
	}
	if out.Floor, err = r.Floor(s.scenario); err != nil {
		return Run{}, err
	}
	out.FloorSeconds = Sum(out.Floor)
	out.Over = out.Mean.Seconds/out.FloorSeconds - 1
	return out, nil
}

// Shared returns a scenario with conversion windows shared.
func Shared(sc *scenarios.Scenario) *scenarios.Scenario {
	out := *sc
	out.Windows = scenarios.Shared
	return &out
}
