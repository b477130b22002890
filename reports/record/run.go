package record

// The schema versions that this program writes. A document names its own in
// its member "schema", the oldest one that describes it; released versions
// decode for ever. The second ones came with golden units, the third with
// lots, the fourth with orders of testing.
const (
	RunSchema          = "sinkproof-run/1"
	RunSchema2         = "sinkproof-run/2"
	OpeningSchema      = "sinkproof-opening/1"
	OpeningSchema2     = "sinkproof-opening/2"
	InterruptionSchema = "sinkproof-interruption/1"
	EntrySchema        = "sinkproof-entry/1"
	EntrySchema2       = "sinkproof-entry/2"
	EntrySchema3       = "sinkproof-entry/3"
	EntrySchema4       = "sinkproof-entry/4"
)

// Verdict is the outcome of a run.
type Verdict string

// The three verdicts. None means that the bench could not tell: a fault of
// the bench is never a fault of the unit.
const (
	Pass Verdict = "pass"
	Fail Verdict = "fail"
	None Verdict = "none"
)

// Bin is where the operator puts the unit.
type Bin string

// The bins. Quarantine is for units whose cell may be a hazard.
const (
	BinPass       Bin = "pass"
	BinRework     Bin = "rework"
	BinQuarantine Bin = "quarantine"
	BinRetest     Bin = "retest"
)

// Rule is how a reading is held against a limit (JCGM 106:2012, 8.2 and 8.3).
type Rule string

// The decision rules: simple compares the value with the tolerance limit,
// guarded with an acceptance limit drawn in by r times the expanded
// uncertainty.
const (
	Simple  Rule = "simple"
	Guarded Rule = "guarded"
)

// Kinds of bench. The twin's records are real in form, but no evidence about
// a unit that exists: verification accepts them only when asked to.
const (
	Twin     = "twin"
	Hardware = "hardware"
)

// Opening is what is known of a run before anything moves.
type Opening struct {
	// ID is a UUIDv7 (RFC 9562) in its text form; see NewID.
	ID string `json:"id"`
	// Serial names the unit, in printable ASCII.
	Serial   string `json:"serial"`
	Product  string `json:"product"`
	Lot      string `json:"lot,omitempty"`
	Supplier string `json:"supplier,omitempty"`
	// Attempt counts the runs of this serial in the ledger: 1, then 2 for
	// the retest after a re-seat.
	Attempt int `json:"attempt"`
	// AllowedBy names the engineer who allowed a run beyond the one retest.
	AllowedBy string `json:"allowed_by,omitempty"`
	Bench     Bench  `json:"bench"`
	// Nest numbers the nest from 1; 0 where the rig has only one.
	Nest int `json:"nest,omitempty"`
	// Started is the run's one wall-clock instant, RFC 3339 in UTC. All
	// other instants are offsets from it.
	Started  string   `json:"started"`
	Files    []File   `json:"files"`
	Decision Decision `json:"decision"`
}

// Run is the record of one execution of a scenario on one unit.
type Run struct {
	Schema string `json:"schema"`
	Opening
	// DurationUS is the time from the start to the verdict, in microseconds.
	DurationUS int64   `json:"duration_us"`
	Verdict    Verdict `json:"verdict"`
	// Reason says in plain words why the verdict is what it is; it is never
	// absent when the verdict is none.
	Reason        string          `json:"reason,omitempty"`
	Bin           Bin             `json:"bin"`
	Checks        []Check         `json:"checks,omitempty"`
	Readings      []Reading       `json:"readings,omitempty"`
	Relays        []RelayMove     `json:"relays,omitempty"`
	Waveforms     []Waveform      `json:"waveforms,omitempty"`
	NotObservable []NotObservable `json:"not_observable,omitempty"`
	Notes         []Note          `json:"notes,omitempty"`
	Fault         *BenchFault     `json:"fault,omitempty"`
	Suspects      []Finding       `json:"suspects,omitempty"`
	// Diagnosis says what the probabilities of the suspects rest on; absent
	// where none was made.
	Diagnosis *Diagnosis `json:"diagnosis,omitempty"`
}

// Bench identifies the rig that ran, and the program on it.
type Bench struct {
	Name string `json:"name"`
	// Kind is Twin or Hardware.
	Kind string `json:"kind"`
	// Program is the version of sinkproof.
	Program string `json:"program"`
	// Computer names the bench's computer, absent on the twin.
	Computer string `json:"computer,omitempty"`
	// Calibration is the id of the calibration in force; absent where the
	// tolerances of the wiring file were used instead.
	Calibration string `json:"calibration,omitempty"`
	// Uncalibrated is the reason that somebody gave to run without a
	// calibration in force.
	Uncalibrated string `json:"uncalibrated,omitempty"`
	// Unproven is the reason that somebody gave to run without the golden units
	// having answered as expected; a document with it is of the second version.
	Unproven string `json:"unproven,omitempty"`
}

// schema is the oldest version that describes the opening.
func (o Opening) schema() string {
	if o.Bench.Unproven != "" {
		return OpeningSchema2
	}
	return OpeningSchema
}

// schema is the oldest version that describes the record.
func (r Run) schema() string {
	if r.Bench.Unproven != "" {
		return RunSchema2
	}
	return RunSchema
}

// The roles of the files that a run was made from.
const (
	RoleWiring   = "wiring"
	RoleProduct  = "product"
	RoleScenario = "scenario"
)

// File identifies one file by its content, never by its path.
type File struct {
	Role    string `json:"role"`
	Name    string `json:"name"`
	Version string `json:"version,omitempty"`
	// SHA256 is the hash of the file's bytes in lower-case hexadecimal.
	SHA256 string `json:"sha256"`
}

// Decision is the rule that limits were applied with.
type Decision struct {
	Rule Rule `json:"rule"`
	// Guard is r in "acceptance limit = tolerance limit ∓ r·U"; 0 under the
	// simple rule.
	Guard float64 `json:"guard"`
}

// BenchFault is why the bench could not judge.
type BenchFault struct {
	AtUS int64 `json:"at_us"`
	// What happened, as the error said it.
	What string `json:"what"`
	// Hint is the operator's next step, apart from the message.
	Hint string `json:"hint,omitempty"`
}

// Note is something that happened and is neither a reading nor an answer.
type Note struct {
	AtUS int64 `json:"at_us"`
	// Kind is one word or two: "interlock", "re-seat", "control".
	Kind string `json:"kind"`
	Text string `json:"text"`
}

// Interruption is the body of the entry that closes a run which never came
// to a verdict, because the program ended under it.
type Interruption struct {
	// ID and Serial repeat those of the opening.
	ID     string `json:"id"`
	Serial string `json:"serial"`
	// Opened is the hash of the opening's entry.
	Opened string `json:"opened"`
	Reason string `json:"reason"`
}
