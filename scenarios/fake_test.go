package scenarios_test

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures/source"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
)

// fake is a bench whose channels say what a test wants, for what a real one
// and the twin do too seldom.
type fake struct {
	now     time.Duration
	entered time.Duration
	setting wiring.Setting
	passed  bool
	seated  bool
	seats   int // how often a unit was plugged
	log     []string

	// volts gives the value of a channel; the presence is what a probe sees.
	value    func(channel string) quantity.Measured
	presence func() bench.Presence
	// fail, if not nil, may refuse a call by its name and argument.
	fail func(call, what string) error
}

func (f *fake) call(name, what string) error {
	f.now += time.Millisecond
	f.log = append(f.log, name+" "+what)
	if f.fail == nil {
		return nil
	}
	return f.fail(name, what)
}

func (f *fake) Now() time.Duration     { return f.now }
func (f *fake) Entered() time.Duration { return f.entered }
func (f *fake) Pass(condition string)  { f.passed = condition == "probe-vbus" }

func (f *fake) Begin(context.Context) error { f.passed = false; return f.call("begin", "") }

func (f *fake) Empty(context.Context) (bench.Presence, error) {
	if err := f.call("empty", ""); err != nil {
		return bench.Presence{}, err
	}
	if f.seated {
		return bench.Presence{}, &bench.Fault{What: "prove the nest empty", Thing: "nest", Hint: "Take the unit out.", Err: bench.ErrOccupied}
	}
	return bench.Presence{}, nil
}

func (f *fake) Probe(context.Context) (bench.Presence, error) {
	return f.presence(), f.call("probe", "")
}

func (f *fake) Enter(_ context.Context, s wiring.Setting) error {
	if s.Condition != "isolated" && s.Condition != "data-pair" && !f.passed {
		return &bench.Fault{What: "enter", Thing: s.Condition, Err: bench.ErrNeeds}
	}
	err := f.call("enter", s.String())
	if err == nil {
		f.setting, f.entered = s, f.now
	}
	return err
}

func (f *fake) Do(run func() error) error { return errors.Join(run(), f.Safe()) }

func (f *fake) Safe() error { f.passed = false; return f.call("safe", "") }

func (f *fake) Read(_ context.Context, channel string, _ bench.ReadOptions) (bench.Reading, error) {
	err := f.call("read", channel)
	return bench.Reading{Channel: channel, Value: f.value(channel), At: f.now}, err
}

func (f *fake) Wait(_ context.Context, u bench.Until) (bench.Waited, error) {
	err := f.call("wait", u.Channel)
	w := bench.Waited{At: f.now, Since: quantity.Known(quantity.Seconds(0.1)), Reading: bench.Reading{Channel: u.Channel, Value: f.value(u.Channel), At: f.now}}
	switch v := w.Reading.Value; u.Relation {
	case bench.AtLeast:
		w.Met = v.SI >= u.Level.SI
	case bench.AtMost:
		w.Met = v.SI <= u.Level.SI
	case bench.Steady:
		w.Met = v.Bound == quantity.Exact
	}
	if !w.Met {
		f.now += u.Within
		w.Since = quantity.Known(quantity.Seconds(u.Within.Seconds())).WithBound(quantity.AtLeast)
	}
	if u.Keep {
		w.Wave = bench.Waveform{Channel: u.Channel, Dim: quantity.Voltage, Interval: time.Millisecond, Samples: []bench.Sample{{At: f.now, Value: 1}}}
	}
	return w, err
}

func (f *fake) ReadTogether(ctx context.Context, asks []bench.Ask) ([]bench.Answer, error) {
	f.log = append(f.log, fmt.Sprintf("together %d", len(asks)))
	var out []bench.Answer
	for _, a := range asks {
		x, err := f.Read(ctx, a.Channel, a.ReadOptions)
		if err != nil {
			return nil, err
		}
		out = append(out, bench.Answer{Reading: x, Met: a.Band == 0 || x.Value.Bound == quantity.Exact})
	}
	return out, nil
}

func (f *fake) Capture(_ context.Context, c bench.Capture) (bench.Waveform, error) {
	err := f.call("capture", c.Channel)
	f.now += c.For
	return bench.Waveform{Channel: c.Channel, Dim: quantity.Voltage, Interval: time.Millisecond, Samples: []bench.Sample{{At: f.now, Value: f.value(c.Channel).SI}}}, err
}

// Seat, Unseat and Reseat implement scenarios.Handler.
func (f *fake) Seat(_ context.Context, serial string) error {
	f.seated, f.seats = true, f.seats+1
	return f.call("seat", serial)
}

func (f *fake) Unseat(_ context.Context, serial, _ string) error {
	f.seated = false
	return f.call("unseat", serial)
}

func (f *fake) Reseat(_ context.Context, serial, _ string) error {
	f.seats++
	return f.call("reseat", serial)
}

// good is a bench with a good unit: 5 V, 0.4 A, 5.1 kΩ.
func good() *fake {
	f := &fake{}
	f.value = func(channel string) quantity.Measured {
		switch channel {
		case "ibus":
			return quantity.Known(quantity.Amperes(0.4))
		case "rd1":
			return quantity.Known(quantity.Ohms(5100))
		case "temperature":
			return quantity.Known(quantity.Celsius(23))
		}
		if channel == "vforce" && f.setting.Condition == "no-termination" {
			return quantity.Known(quantity.Volts(0))
		}
		return quantity.Known(quantity.Volts(5))
	}
	f.presence = func() bench.Presence {
		return bench.Presence{
			Present:     f.seated,
			Capacitance: bench.Reading{Channel: "vbus", Value: quantity.Known(quantity.Farads(4.7e-6)), At: f.now},
			Level:       bench.Reading{Channel: "vbus", Value: quantity.Known(quantity.Volts(2.5)), At: f.now},
		}
	}
	return f
}

// opening is a scenario text that all these tests begin with; the stages of
// the test follow.
const head = `scenario "fake" {
  title    = "Fake"
  version  = "1"
  decision = "simple"

  interlock "over-current" {
    title  = "Current"
    rework = "Look for what gets hot."
  }
  interlock "vbus-held" {
    title  = "VBUS falls"
    rework = "Look for what feeds it."
    bin    = "quarantine"
  }

  stage "seat" {
    probe "seat" {}
    check "not-shorted" {
      title  = "Not shorted"
      value  = reading.seat.top
      low    = "1 V"
      source = "test"
      gate   = true
      rework = "Look for a bridge."
    }
  }
`

// terminations, cold and charge are stages to choose from.
const (
	terminations = `
  stage "cc1" {
    enter "probe-cc1" {}
    read "r" {
      channel = channel.rd1
    }
    reseat {
      when = reading.r > "100 kΩ"
      why  = "CC1 reads open"
    }
    check "rd" {
      title  = "Rd"
      value  = reading.r
      low    = "4.59 kΩ"
      high   = "5.61 kΩ"
      source = "test"
      rework = "Check the resistor."
    }
  }
`
	cold = `
  stage "cold" {
    enter "no-termination" {}
    sample "v" {
      channel = channel.vforce
      over    = "50 ms"
      every   = "10 ms"
    }
    control "cold" {
      kind   = "negative"
      title  = "Stays cold"
      value  = reading.v.max
      high   = "0.8 V"
      source = "test"
      rework = "Look for what feeds the port."
      lifted {
        read "v-lifted" {
          channel = channel.vforce
        }
        value = reading.v-lifted
      }
    }
  }
`
	charge = `
  stage "charge" {
    enter "no-termination" {}
    wait "fall" {
      until  = channel.vforce <= "0.8 V"
      hold   = "5 ms"
      within = "700 ms"
    }
    enter "c-supply" {}
    wait "on" {
      until  = channel.vbus >= "4 V"
      within = "1.3 s"
      keep   = true
      threshold "lowest" {
        level = "4 V"
      }
    }
    read "i" {
      channel = channel.ibus
      steady  = "2 %"
      within  = "600 ms"
    }
    check "found" {
      title   = "Found"
      value   = reading.on
      high    = "1.15 s"
      source  = "test"
      TRUSTS
      rework  = "Check the terminations."
    }
    check "current" {
      title    = "Current"
      requires = ["found"]
      value    = reading.i
      low      = "0.38 A"
      high     = "0.42 A"
      source   = "test"
      because  = ["found"]
      rework   = "Check the charger."
    }
  }
`
)

// play runs stages on a bench and proves what must hold after every run: a
// valid record, a rig led to safety at the end.
func play(t *testing.T, f *fake, stages string) record.Run {
	t.Helper()
	run, err := playJob(t, f, stages, func(*scenarios.Job) {})
	require.NoError(t, err)
	return run
}

func playJob(t *testing.T, f *fake, stages string, change func(*scenarios.Job)) (record.Run, error) {
	t.Helper()
	return playIn(t, t.Context(), f, stages, change)
}

func playIn(t *testing.T, ctx context.Context, f *fake, stages string, change func(*scenarios.Job)) (record.Run, error) {
	t.Helper()
	file, found := source.Parse("fake.hcl", []byte(head+stages+"}\n"))
	require.NoError(t, found.Err())
	sc, found := scenarios.Load(file, sketch(), shippedProduct(t, "hand-lamp"))
	require.NoError(t, found.Err())
	job := scenarios.Job{Opening: opening(sc, "S1"), Scenario: sc, Bench: f, Handler: f}
	change(&job)
	run, err := scenarios.Run(ctx, job)
	require.NoError(t, run.Validate(), "the record is valid whatever happened")
	require.Equal(t, "safe ", f.log[len(f.log)-1], "the last thing is always the safe state")
	return run, err
}

// done counts the calls of a name.
func (f *fake) done(name string) int {
	n := 0
	for _, l := range f.log {
		var word string
		if _, err := fmt.Sscan(l, &word); err == nil && word == name {
			n++
		}
	}
	return n
}
