package record

import (
	"fmt"
	"regexp"
	"slices"
	"sync"
	"time"
)

// The forms of texts that a document is searched by. The published schema
// holds the same patterns; a test compares the two.
const (
	// serialForm: printable ASCII, because a serial is printed as a code and
	// typed again, no space at either end, at most 64 characters.
	serialForm = `^[!-~]([ -~]{0,62}[!-~])?$`
	// idForm: a UUIDv7 in lower case (RFC 9562, 5.7).
	idForm   = `^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$`
	hashForm = `^[0-9a-f]{64}$`
	// startedForm: RFC 3339 in UTC, to the microsecond at most.
	startedForm = `^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,6})?Z$`
)

// rule is one demand on a document: what must hold, and what to say if not.
type rule struct {
	holds bool
	want  string
}

// unless is a rule whose words are made only where it does not hold: a record is held
// against some five hundred.
func unless(holds bool, format string, of ...any) rule {
	if holds {
		return rule{holds: true}
	}
	return rule{want: fmt.Sprintf(format, of...)}
}

// unmet says what the first rule wants that does not hold; empty where all hold.
func unmet(rules ...rule) string {
	for _, r := range rules {
		if !r.holds {
			return r.want
		}
	}
	return ""
}

// demand returns the first rule that does not hold as an error about the
// thing.
func demand(thing string, rules ...rule) error {
	for _, r := range rules {
		if !r.holds {
			return fmt.Errorf("%s: %s: %w", thing, r.want, ErrInvalid)
		}
	}
	return nil
}

// forms are the patterns of the schemas, compiled at their first use: a lot
// names a hundred thousand serials, and every record is checked a dozen times.
var forms sync.Map

func matches(form, text string) bool {
	known, ok := forms.Load(form)
	if !ok {
		known, _ = forms.LoadOrStore(form, regexp.MustCompile(form))
	}
	return known.(*regexp.Regexp).MatchString(text)
}

// ValidSerial says whether a text can be a serial: 1 to 64 printable ASCII
// characters, no space first or last. It wraps ErrInvalid.
func ValidSerial(serial string) error {
	if matches(serialForm, serial) {
		return nil
	}
	return demand(fmt.Sprintf("serial %q", serial), rule{false,
		"must be 1 to 64 printable ASCII characters with no space first or last"})
}

// Validate checks the rules of the published schema. It wraps ErrInvalid.
func (o Opening) Validate() error {
	if err := ValidSerial(o.Serial); err != nil {
		return err
	}
	thing := fmt.Sprintf("run %q of serial %q", o.ID, o.Serial)
	_, timeErr := time.Parse(time.RFC3339Nano, o.Started)
	err := demand(thing,
		rule{matches(idForm, o.ID), "id must be a UUIDv7 in lower case"},
		rule{o.Product != "", "product is missing"},
		rule{o.Attempt >= 1, fmt.Sprintf("attempt is %d, must count from 1", o.Attempt)},
		rule{o.Nest >= 0, fmt.Sprintf("nest is %d, must count from 1", o.Nest)},
		rule{matches(startedForm, o.Started) && timeErr == nil,
			fmt.Sprintf("started is %q, must be RFC 3339 in UTC such as 2026-05-04T07:30:00Z", o.Started)},
		rule{o.Bench.Name != "", "bench name is missing"},
		rule{o.Bench.Kind == Twin || o.Bench.Kind == Hardware,
			fmt.Sprintf("bench kind is %q, must be twin or hardware", o.Bench.Kind)},
		rule{o.Bench.Program != "", "program version is missing"},
		rule{len(o.Files) > 0, "files are missing"},
		rule{o.Decision.valid(), fmt.Sprintf("decision %q with guard %v is none; "+
			"simple goes with 0, guarded with more than 0", o.Decision.Rule, o.Decision.Guard)},
	)
	for i := 0; i < len(o.Files) && err == nil; i++ {
		err = o.Files[i].validate(thing)
	}
	return err
}

func (d Decision) valid() bool {
	return d.Rule == Simple && d.Guard == 0 || d.Rule == Guarded && d.Guard > 0
}

func (f File) validate(thing string) error {
	return demand(fmt.Sprintf("%s: file %q", thing, f.Name),
		rule{f.Name != "", "name is missing"},
		rule{slices.Contains([]string{RoleWiring, RoleProduct, RoleScenario}, f.Role),
			fmt.Sprintf("role is %q, must be wiring, product or scenario", f.Role)},
		rule{matches(hashForm, f.SHA256), "sha256 must be 64 lower-case hexadecimal digits"},
	)
}

// Validate checks the rules of the published schema, and those between
// members that a schema cannot say: names are unique and references lead
// somewhere, a limit has the unit of its value. It wraps ErrInvalid.
func (r Run) Validate() error {
	if err := r.Opening.Validate(); err != nil {
		return err
	}
	thing := fmt.Sprintf("run %q of serial %q", r.ID, r.Serial)
	if err := demand(thing,
		rule{r.Schema == r.schema(), fmt.Sprintf("schema is %q, must be %q", r.Schema, r.schema())},
		rule{r.DurationUS >= 0, "duration is negative"},
	); err != nil {
		return err
	}
	for _, step := range []func(string) error{
		r.validateOutcome, r.validateReadings, r.validateChecks, r.validateWaveforms, r.validateRemarks,
	} {
		if err := step(thing); err != nil {
			return err
		}
	}
	return nil
}

// validateOutcome keeps verdict, bin and answers consistent: nothing can be
// kept as passed that has a failed or an unanswered check.
func (r Run) validateOutcome(thing string) error {
	answered := func(a Answer) bool {
		return slices.ContainsFunc(r.Checks, func(c Check) bool { return c.Answer == a })
	}
	switch r.Verdict {
	case Pass:
		return demand(thing+": verdict pass",
			rule{r.Bin == BinPass, fmt.Sprintf("bin is %q, must be pass", r.Bin)},
			rule{len(r.Checks) > 0, "no check was answered"},
			rule{!answered(Failed) && !answered(Unanswered), "a check failed or was not answered"},
			rule{r.Fault == nil, "the bench failed"})
	case Fail:
		return demand(thing+": verdict fail",
			rule{r.Bin == BinRework || r.Bin == BinQuarantine || r.Bin == BinRetest,
				fmt.Sprintf("bin is %q, must be rework, quarantine or retest", r.Bin)},
			rule{answered(Failed), "no check failed"})
	case None:
		return demand(thing+": verdict none",
			rule{r.Bin == BinRework || r.Bin == BinQuarantine || r.Bin == BinRetest,
				fmt.Sprintf("bin is %q, must be rework, quarantine or retest", r.Bin)},
			rule{r.Reason != "", "the reason is missing"})
	}
	return demand(thing, rule{false, fmt.Sprintf("verdict is %q, must be pass, fail or none", r.Verdict)})
}

// Validate checks the rules of the published schema. It wraps ErrInvalid.
func (i Interruption) Validate() error {
	if err := ValidSerial(i.Serial); err != nil {
		return err
	}
	return demand(fmt.Sprintf("interruption of run %q", i.ID),
		rule{matches(idForm, i.ID), "id must be a UUIDv7 in lower case"},
		rule{matches(hashForm, i.Opened), "hash of the opening must be 64 lower-case hexadecimal digits"},
		rule{i.Reason != "", "the reason is missing"})
}
