package scenarios_test

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
)

// trusting puts the trust of the charge stage in a control, or in nothing.
func trusting(control string) string {
	if control == "" {
		return strings.Replace(charge, "TRUSTS", "", 1)
	}
	return strings.Replace(charge, "TRUSTS", `trusts = ["`+control+`"]`, 1)
}

func TestRunGoesTheWayOfOneUnit(t *testing.T) {
	f := good()
	run := play(t, f, terminations+cold+trusting("cold"))
	require.Equal(t, record.Pass, run.Verdict, run.Reason)
	require.Equal(t, record.BinPass, run.Bin)
	require.Equal(t, []string{
		"begin ", "empty ", "seat S1", "probe ", "enter probe-cc1", "read rd1", "enter no-termination",
	}, f.log[:7])
	require.Equal(t, []string{"not-shorted", "rd", "cold", "found", "current", "over-current", "vbus-held"}, withAnswer(run, record.Passed))
	require.Equal(t, 1, f.seats)
	require.Len(t, run.Waveforms, 2, "the sample and the wait that keeps one")
	require.Equal(t, []record.Threshold{{Label: "lowest", Value: 4}}, run.Waveforms[1].Thresholds)
	require.Equal(t, "reached", run.Waveforms[1].Marks[0].Label)
}

func TestStageThatEntersTwiceTakesItsStepsWhereTheyStand(t *testing.T) {
	f := good()
	play(t, f, trusting(""))
	i := slices.Index(f.log, "enter c-supply")
	require.Equal(t, []string{"enter no-termination", "wait vforce", "enter c-supply", "wait vbus"}, f.log[i-2:i+2])
}

func TestOpenAnswerAsksForOneReseat(t *testing.T) {
	open := quantity.Known(quantity.Ohms(500e3)).WithBound(quantity.AtLeast)
	for _, c := range []struct {
		name    string
		plugs   int // from this plug on the contact is made
		verdict record.Verdict
	}{
		{"the plug had not met the pin", 2, record.Pass},
		{"it stays open", 99, record.Fail},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := good()
			plain := f.value
			f.value = func(channel string) quantity.Measured {
				if channel == "rd1" && f.seats < c.plugs {
					return open
				}
				return plain(channel)
			}
			run := play(t, f, terminations+trusting(""))
			require.Equal(t, c.verdict, run.Verdict, run.Reason)
			require.Equal(t, 1, f.done("reseat"), "one re-seat, then the reading decides")
			require.Equal(t, 2, f.done("probe"), "seating is shown again")
			require.Equal(t, "re-seat", run.Notes[0].Kind)
			names := []string{}
			for _, r := range run.Readings {
				names = append(names, r.Name)
			}
			require.Contains(t, names, "r before the re-seat", "what was read before stays in the record")
			require.Contains(t, names, "r")
		})
	}
}

func TestNothingSeatedIsNoFaultOfTheUnit(t *testing.T) {
	f := good()
	p := f.presence
	f.presence = func() bench.Presence { x := p(); x.Present = false; return x }
	run := play(t, f, terminations+trusting(""))
	require.Equal(t, record.None, run.Verdict)
	require.Equal(t, record.BinRetest, run.Bin)
	require.Equal(t, 1, f.done("reseat"))
	require.Empty(t, failed(run))
	require.Contains(t, run.Reason, "could not be shown that a unit is seated")
	require.Equal(t, 0, f.done("read"), "no missing termination is answered")
}

func TestShortedUnitMeetsNoPower(t *testing.T) {
	f := good()
	p := f.presence
	f.presence = func() bench.Presence {
		x := p()
		x.Shorted, x.Level.Value = true, quantity.Known(quantity.Volts(0.02))
		return x
	}
	run := play(t, f, terminations+trusting(""))
	require.Equal(t, record.Fail, run.Verdict)
	require.Equal(t, []string{"not-shorted"}, failed(run))
	require.Equal(t, 0, f.done("enter"), "nothing is entered past a gate that failed")
	require.Equal(t, "not asked: no power without probe-vbus, and not-shorted has not passed", checkNamed(t, run, "rd").Why)
	require.Equal(t, "Look for a bridge.", run.Suspects[0].Rework)
}

func TestBenchFaultEndsTheAskingAndIsNoFail(t *testing.T) {
	f := good()
	f.fail = func(call, what string) error {
		if call == "read" && what == "rd1" {
			return &bench.Fault{What: "convert", Thing: "adc1", Hint: "Check the bus.", Err: errors.New("no acknowledge")}
		}
		return nil
	}
	run := play(t, f, terminations+cold+trusting("cold"))
	require.Equal(t, record.None, run.Verdict)
	require.Equal(t, record.BinRetest, run.Bin)
	require.Empty(t, failed(run))
	require.Equal(t, "Check the bus.", run.Fault.Hint)
	require.Contains(t, run.Fault.What, "no acknowledge")
	require.Equal(t, []string{"not-shorted"}, withAnswer(run, record.Passed))
	require.Len(t, withAnswer(run, record.Unanswered), 6, "every other check is listed as unanswered")
}

func TestEveryCallThatFailsEndsSafelyWithoutAVerdictOnTheUnit(t *testing.T) {
	all := good()
	play(t, all, terminations+cold+trusting("cold"))
	for i := range len(all.log) {
		f := good()
		f.fail = func(string, string) error {
			if len(f.log) == i+1 {
				return &bench.Fault{What: "anything", Thing: "chip", Err: errors.New("dead")}
			}
			return nil
		}
		run := play(t, f, terminations+cold+trusting("cold"))
		require.Equal(t, record.None, run.Verdict, "call %d, %s", i, all.log[i])
		require.Empty(t, failed(run), "call %d, %s", i, all.log[i])
		require.NotNil(t, run.Fault, "call %d, %s", i, all.log[i])
	}
}

// trips fails the entry of the C supply by the guard, with a unit seated or
// always.
func trips(f *fake, always bool) {
	f.fail = func(call, what string) error {
		if call == "enter" && what == "c-supply" && (always || f.seated) {
			return &bench.Interlock{Kind: bench.OverCurrent, Thing: "meter1", Value: quantity.Amperes(2), Limit: quantity.Amperes(0.9), Hint: "Look at the unit."}
		}
		return nil
	}
}

func TestInterlockThatGoesAwayWithTheUnitFailsIt(t *testing.T) {
	f := good()
	trips(f, false)
	run := play(t, f, terminations+trusting(""))
	require.Equal(t, record.Fail, run.Verdict, run.Reason)
	require.Equal(t, []string{"over-current"}, failed(run))
	require.Nil(t, run.Fault)
	require.Equal(t, record.Passed, checkNamed(t, run, "rd").Answer, "what was answered before stands")
	require.Equal(t, record.Unanswered, checkNamed(t, run, "found").Answer)
}

func TestInterlockThatStaysIsTheBenchs(t *testing.T) {
	f := good()
	trips(f, true)
	run := play(t, f, terminations+trusting(""))
	require.Equal(t, record.None, run.Verdict)
	require.Empty(t, failed(run))
	require.Equal(t, "Look at the unit.", run.Fault.Hint)
}

func TestInterlockOfThePersonIsNeverTheUnits(t *testing.T) {
	f := good()
	f.fail = func(call, what string) error {
		if call == "enter" && what == "c-supply" {
			return &bench.Interlock{Kind: bench.StopPressed, Thing: "estop", Hint: "Release the stop."}
		}
		return nil
	}
	run := play(t, f, trusting(""))
	require.Equal(t, record.None, run.Verdict)
	require.Equal(t, 0, f.done("unseat"), "nobody is asked to reach into the nest")
}

func TestVbusThatFallsWithTheCellFailsTheUnit(t *testing.T) {
	f := good()
	held := true
	f.fail = func(call, what string) error {
		if call == "enter" && what == "c-supply" && held {
			held = false
			return &bench.Fault{What: "enter", Thing: what, Err: bench.ErrHeld}
		}
		return nil
	}
	run := play(t, f, trusting(""))
	require.Equal(t, record.Fail, run.Verdict)
	require.Equal(t, record.BinQuarantine, run.Bin)
	require.Equal(t, []string{"vbus-held"}, failed(run))
	require.Equal(t, record.Passed, checkNamed(t, run, "current").Answer, "the run goes on from isolated")
}

func TestVbusThatStaysUpIsAskedWithoutTheUnit(t *testing.T) {
	f := good()
	f.fail = func(call, what string) error {
		if call == "enter" && what == "c-supply" {
			return &bench.Fault{What: "enter", Thing: what, Err: bench.ErrHeld}
		}
		return nil
	}
	run := play(t, f, trusting(""))
	require.Equal(t, record.Fail, run.Verdict)
	require.Equal(t, []string{"vbus-held"}, failed(run))
	require.Equal(t, 1, f.done("unseat"))
}

func TestCancelledRunIsClosedAndSafe(t *testing.T) {
	f := good()
	ctx, cancel := context.WithCancel(t.Context())
	f.fail = func(call, what string) error {
		if what == "rd1" {
			cancel()
			return ctx.Err()
		}
		return nil
	}
	run, err := playIn(t, ctx, f, terminations+trusting(""), func(*scenarios.Job) {})
	require.ErrorIs(t, err, context.Canceled)
	require.Equal(t, record.None, run.Verdict)
	require.Equal(t, "interrupted before the last check", run.Fault.What)
	require.NotContains(t, run.Reason, "context")
}

func TestCurrentThatDoesNotSettleFails(t *testing.T) {
	f := good()
	plain := f.value
	f.value = func(channel string) quantity.Measured {
		if channel == "ibus" { // the fake settles only for exact values
			return plain(channel).WithBound(quantity.AtLeast)
		}
		return plain(channel)
	}
	run := play(t, f, trusting(""))
	require.Equal(t, []string{"current"}, failed(run))
	require.Contains(t, checkNamed(t, run, "current").Why, "did not stay within 2 %")
}

func TestConsequenceIsListedAsSuch(t *testing.T) {
	f := good()
	plain := f.value
	f.value = func(channel string) quantity.Measured {
		if channel == "vbus" {
			return quantity.Known(quantity.Volts(0))
		}
		return plain(channel)
	}
	stages := strings.Replace(trusting(""), `requires = ["found"]`, "", 1)
	stages = strings.Replace(stages, `"0.38 A"`, `"0.41 A"`, 1)
	run := play(t, f, stages)
	require.Equal(t, []string{"found", "current"}, failed(run))
	require.Contains(t, checkNamed(t, run, "current").Why, "follows from the fail of found")
	require.Empty(t, checkNamed(t, run, "current").Rework)
	require.Len(t, run.Suspects, 1)
	require.Equal(t, []string{"found", "current"}, run.Suspects[0].For)
}

const openCell = `
  stage "cell" {
    enter "isolated" {}
    given "ocv" {
      title = "Open-circuit voltage"
      as    = "1 V"
      u     = "20 mV"
    }
    read "v" {
      channel = channel.vbus
    }
    check "meaningful" {
      title     = "Means something"
      value     = reading.v
      low       = "1 V"
      source    = "test"
      provided  = reading.ocv >= "3.2 V" && reading.ocv <= "4 V"
      otherwise = "the cell's voltage is not known to be between 3.2 V and 4.0 V"
      rework    = "None."
    }
    check "warm" {
      title  = "Asked only of what is warm"
      when   = reading.v > "9 V"
      value  = channel.temperature
      high   = "50 °C"
      source = "test"
      rework = "None."
    }
  }
`

func TestChargeOfAnUnknownCellIsUnanswered(t *testing.T) {
	for _, c := range []struct {
		name  string
		given map[string]quantity.Quantity
		want  record.Answer
	}{
		{"not given", nil, record.Unanswered},
		{"empty", map[string]quantity.Quantity{"ocv": quantity.Volts(2.9)}, record.Unanswered},
		{"full", map[string]quantity.Quantity{"ocv": quantity.Volts(4.15)}, record.Unanswered},
		{"a current", map[string]quantity.Quantity{"ocv": quantity.Amperes(3.7)}, record.Unanswered},
		{"half full", map[string]quantity.Quantity{"ocv": quantity.Volts(3.7)}, record.Passed},
	} {
		t.Run(c.name, func(t *testing.T) {
			run, err := playJob(t, good(), openCell, func(j *scenarios.Job) { j.Given = c.given })
			require.NoError(t, err)
			require.Equal(t, c.want, checkNamed(t, run, "meaningful").Answer)
			require.Equal(t, c.want == record.Passed, run.Verdict == record.Pass)
		})
	}
}

func TestCheckWhoseWhenDoesNotHoldIsListedAndNotAsked(t *testing.T) {
	run, err := playJob(t, good(), openCell, func(j *scenarios.Job) {
		j.Given = map[string]quantity.Quantity{"ocv": quantity.Volts(3.7)}
	})
	require.NoError(t, err)
	require.Equal(t, record.Pass, run.Verdict, run.Reason)
	require.Equal(t, "warm", run.NotObservable[0].Check)
	require.Contains(t, run.NotObservable[0].Why, "reading.v > 9 V does not hold")
}

func TestChannelInAValueIsReadThereAndKept(t *testing.T) {
	f := good()
	run, err := playJob(t, f, strings.Replace(openCell, `"9 V"`, `"4 V"`, 1), func(j *scenarios.Job) {
		j.Given = map[string]quantity.Quantity{"ocv": quantity.Volts(3.7)}
	})
	require.NoError(t, err)
	require.Equal(t, []string{"warm/temperature"}, checkNamed(t, run, "warm").Readings)
}

func TestOperatorWhoDoesNotSeatLeavesNoVerdict(t *testing.T) {
	f := good()
	f.fail = func(call, _ string) error {
		if call == "seat" {
			return errors.New("nobody answered")
		}
		return nil
	}
	run := play(t, f, trusting(""))
	require.Equal(t, record.None, run.Verdict)
	require.Contains(t, run.Fault.What, "nobody answered")
}

func TestOccupiedNestIsRefusedBeforeSeating(t *testing.T) {
	f := good()
	f.seated = true
	run := play(t, f, trusting(""))
	require.Equal(t, record.None, run.Verdict)
	require.Equal(t, 0, f.done("seat"))
	require.Equal(t, "Take the unit out.", run.Fault.Hint)
}

// Live progress sees what the record is made of.
func TestObserverSeesTheEventsOfTheRecord(t *testing.T) {
	var fold record.Fold
	run, err := playJob(t, good(), terminations+cold+trusting("cold"), func(j *scenarios.Job) {
		j.Emit = func(e record.Event) { require.NoError(t, fold.Apply(e)) }
	})
	require.NoError(t, err)
	require.True(t, fold.Complete())
	require.Equal(t, run, fold.Run())
}

func TestRelayLogGroupsWhatIsWrittenTogether(t *testing.T) {
	f, log := good(), &scenarios.RelayLog{}
	f.fail = func(call, what string) error {
		if call == "enter" {
			log.Moved(bench.Move{At: f.now, Name: "k1", On: what != "no-termination"})
			log.Moved(bench.Move{At: f.now, Name: "k2", On: true})
			log.Noticed(bench.Notice{At: f.now, What: "coils dropped", Err: errors.New("late")})
		}
		return nil
	}
	run, err := playJob(t, f, trusting(""), func(j *scenarios.Job) { j.Relays = log })
	require.NoError(t, err)
	require.Len(t, run.Relays, 2)
	require.Equal(t, []string{"k2"}, run.Relays[0].On)
	require.Equal(t, []string{"k1"}, run.Relays[0].Off)
	require.Equal(t, []string{"k1", "k2"}, run.Relays[1].Coils)
	require.Equal(t, "c-supply", run.Relays[1].Condition)
	require.Equal(t, "guard", run.Notes[0].Kind)
}
