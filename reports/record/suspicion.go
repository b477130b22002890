package record

import (
	"fmt"
	"slices"
	"time"
)

// The schema versions of what is said about earlier entries.
const (
	SuspicionSchema  = "sinkproof-suspicion/1"
	WithdrawalSchema = "sinkproof-withdrawal/1"
	ClockSchema      = "sinkproof-clock/1"
)

// The kinds of entries that say something about earlier ones, which stay as
// they are.
const (
	SuspicionRaised    Kind = "suspicion"
	SuspicionWithdrawn Kind = "suspicion withdrawn"
	ClockSet           Kind = "clock set"
)

const namedByRun = "a suspicion is named by the id of its golden run, a UUIDv7 in lower case"

// Suspicion names every record of a nest since the last good answer in it of a
// golden unit that then deviated there; of all nests where its run says none. It
// follows the golden run in the chain.
type Suspicion struct {
	// Golden is the id of the registration, Serial that of the golden unit.
	Golden string `json:"golden"`
	Serial string `json:"serial"`
	// Run is the id of the golden run that deviated; it names the suspicion.
	Run   string `json:"run"`
	Bench Bench  `json:"bench"`
	// Made is when the golden run ended.
	Made string `json:"made"`
	// Why is what was not as expected.
	Why []string `json:"why"`
	// Since is the number of the entry with the last good answer of the golden
	// unit in the nest of Run, else that of its registration.
	Since int64 `json:"since"`
	// Suspects are the records of that nest after it, in the order of the chain.
	Suspects []Suspect `json:"suspects,omitempty"`
}

// Suspect is a record under suspicion.
type Suspect struct {
	// Seq is the number of the entry that closed the run.
	Seq    int64  `json:"seq"`
	Run    string `json:"run"`
	Serial string `json:"serial"`
}

// Withdrawal says that the records of a suspicion stand after all.
type Withdrawal struct {
	// Run is the id of the golden run that the suspicion came from.
	Run    string `json:"run"`
	Bench  Bench  `json:"bench"`
	Made   string `json:"made"`
	By     string `json:"by"`
	Reason string `json:"reason"`
}

// Clock says that the bench's clock was set: instants of earlier entries that
// lie after it are wrong.
type Clock struct {
	Bench  Bench  `json:"bench"`
	Made   string `json:"made"`
	By     string `json:"by"`
	Reason string `json:"reason"`
}

type suspicionDocument struct {
	Schema string `json:"schema"`
	Suspicion
}

type withdrawalDocument struct {
	Schema string `json:"schema"`
	Withdrawal
}

type clockDocument struct {
	Schema string `json:"schema"`
	Clock
}

// Suspect makes the suspicion that follows from a golden run that deviated.
// since is the number of the entry with the last good answer, suspects are the
// records after it.
func (g GoldenRun) Suspect(since int64, suspects []Suspect) (Suspicion, error) {
	started, err := time.Parse(time.RFC3339Nano, g.Run.Started)
	if err != nil {
		return Suspicion{}, fmt.Errorf("golden run %s: start %q: %w: %w", g.Run.ID, g.Run.Started, ErrInvalid, err)
	}
	return Suspicion{
		Golden: g.Golden, Serial: g.Run.Serial, Run: g.Run.ID, Bench: g.Run.Bench, Why: g.Deviations,
		Made:  Instant(started.Add(time.Duration(g.Run.DurationUS) * time.Microsecond)),
		Since: since, Suspects: suspects,
	}, nil
}

// Serials lists the serials under suspicion, each once, in the order of the
// chain.
func (s Suspicion) Serials() []string {
	var list []string
	seen := map[string]bool{}
	for _, x := range s.Suspects {
		if !seen[x.Serial] {
			seen[x.Serial] = true
			list = append(list, x.Serial)
		}
	}
	return list
}

// Kind returns SuspicionRaised.
func (s Suspicion) Kind() Kind { return SuspicionRaised }

// Kind returns SuspicionWithdrawn.
func (w Withdrawal) Kind() Kind { return SuspicionWithdrawn }

// Kind returns ClockSet.
func (c Clock) Kind() Kind { return ClockSet }

func (s Suspicion) encode() ([]byte, error) {
	return encodeValid(s, suspicionDocument{SuspicionSchema, s})
}

func (w Withdrawal) encode() ([]byte, error) {
	return encodeValid(w, withdrawalDocument{WithdrawalSchema, w})
}

func (c Clock) encode() ([]byte, error) { return encodeValid(c, clockDocument{ClockSchema, c}) }

// DecodeSuspicion reads the canonical form of a suspicion. It wraps ErrForm,
// ErrSchema, ErrInvalid, ErrNumber or ErrText, as those below do.
func DecodeSuspicion(data []byte) (Suspicion, error) {
	var d suspicionDocument
	if err := decode(data, &d, SuspicionSchema); err != nil {
		return Suspicion{}, fmt.Errorf("suspicion: decode: %w", err)
	}
	return d.Suspicion, sameForm(data, d.Suspicion.encode)
}

// DecodeWithdrawal reads the canonical form of a withdrawal.
func DecodeWithdrawal(data []byte) (Withdrawal, error) {
	var d withdrawalDocument
	if err := decode(data, &d, WithdrawalSchema); err != nil {
		return Withdrawal{}, fmt.Errorf("withdrawal of a suspicion: decode: %w", err)
	}
	return d.Withdrawal, sameForm(data, d.Withdrawal.encode)
}

// DecodeClock reads the canonical form of a clock that was set.
func DecodeClock(data []byte) (Clock, error) {
	var d clockDocument
	if err := decode(data, &d, ClockSchema); err != nil {
		return Clock{}, fmt.Errorf("clock that was set: decode: %w", err)
	}
	return d.Clock, sameForm(data, d.Clock.encode)
}

// Validate checks the rules of the published schema, and that the suspects
// stand in the order of the chain behind the last good answer. It wraps
// ErrInvalid.
func (s Suspicion) Validate() error {
	if err := ValidSerial(s.Serial); err != nil {
		return err
	}
	rules := append(appended(s.Bench, s.Made),
		rule{matches(idForm, s.Golden), "id of the registration must be a UUIDv7 in lower case"},
		rule{matches(idForm, s.Run), namedByRun},
		rule{len(s.Why) > 0 && !slices.Contains(s.Why, ""), "it is not said why"},
		rule{s.Since >= 1, fmt.Sprintf("since is entry %d, entries count from 1", s.Since)})
	last := s.Since
	for _, x := range s.Suspects {
		rules = append(rules,
			rule{x.Seq > last, fmt.Sprintf("entry %d does not follow entry %d", x.Seq, last)},
			rule{matches(idForm, x.Run), "id of a suspect must be a UUIDv7 in lower case"},
			rule{ValidSerial(x.Serial) == nil, fmt.Sprintf("%q is no serial", x.Serial)})
		last = x.Seq
	}
	return demand(fmt.Sprintf("suspicion from golden run %q", s.Run), rules...)
}

// Validate checks the rules of the published schema. It wraps ErrInvalid.
func (w Withdrawal) Validate() error {
	return demand(fmt.Sprintf("withdrawal of the suspicion from golden run %q", w.Run), append(issued(w.Bench, w.Made, w.By),
		rule{matches(idForm, w.Run), namedByRun},
		rule{w.Reason != "", "the reason is missing"})...)
}

// Validate checks the rules of the published schema. It wraps ErrInvalid.
func (c Clock) Validate() error {
	return demand("clock that was set", append(issued(c.Bench, c.Made, c.By), rule{c.Reason != "", "the reason is missing"})...)
}
