package scenarios_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/reports/record"
)

func TestControlThatFailsByTheUnitFailsTheUnit(t *testing.T) {
	f := good()
	plain := f.value
	f.value = func(channel string) quantity.Measured {
		if channel == "vforce" && f.seated {
			return quantity.Known(quantity.Volts(2))
		}
		return plain(channel)
	}
	run := play(t, f, cold+trusting("cold"))
	require.Equal(t, record.Fail, run.Verdict, run.Reason)
	require.Equal(t, []string{"cold"}, failed(run))
	require.Contains(t, checkNamed(t, run, "cold").Why, "went away with the unit")
	require.Equal(t, record.Passed, checkNamed(t, run, "found").Answer, "the bench is trusted, the run goes on")
	require.Equal(t, []int{1, 2}, []int{f.done("unseat"), f.done("seat")})
}

func TestControlThatFailsByTheBenchTakesTheTrust(t *testing.T) {
	f := good()
	plain := f.value
	f.value = func(channel string) quantity.Measured {
		if channel == "vforce" {
			return quantity.Known(quantity.Volts(5))
		}
		return plain(channel)
	}
	run := play(t, f, cold+trusting("cold"))
	require.Equal(t, record.None, run.Verdict)
	require.Equal(t, record.BinRetest, run.Bin)
	require.Contains(t, checkNamed(t, run, "cold").Why, "it is the bench's")
	require.Equal(t, record.Unanswered, checkNamed(t, run, "found").Answer)
	require.Equal(t, "the control cold does not vouch for the bench", checkNamed(t, run, "found").Why)
}

// letsGo is a control of two rounds whose supply must be on before it can show
// that it lets go.
const letsGo = `
  stage "go" {
    for_each = ["normal", "flipped"]
    enter "no-termination" {}
    wait "fall" {
      until  = channel.vforce <= "0.8 V"
      within = "700 ms"
    }
    control "falls" {
      kind   = "negative"
      title  = "Falls"
      value  = reading.fall
      high   = "670 ms"
      source = "test"
      lifted {
        enter "c-supply" {}
        wait "rise-lifted" {
          until  = channel.vbus >= "4 V"
          within = "700 ms"
        }
        enter "no-termination" {}
        wait "fall-lifted" {
          until  = channel.vforce <= "0.8 V"
          within = "700 ms"
        }
        value = max(reading.rise-lifted, reading.fall-lifted)
      }
    }
    enter "c-supply" {
      orientation = each.value
    }
    check "finds" {
      title  = "Finds"
      value  = channel.vbus
      low    = "4 V"
      source = "test"
      trusts = ["falls"]
      rework = "Check the terminations."
    }
  }
`

func TestControlOfManyRoundsIsLiftedOnceAndFromItsOwnBeginning(t *testing.T) {
	for _, c := range []struct {
		name    string
		held    func(f *fake) bool // what keeps VBUS up without a termination
		dead    bool               // the supply gives nothing once the unit is out
		verdict record.Verdict
		finds   record.Answer
	}{
		{"the unit's", func(f *fake) bool { return f.seated }, false, record.Fail, record.Passed},
		{"the bench's", func(*fake) bool { return true }, false, record.None, record.Unanswered},
		{"a supply that is not on cannot let go", func(f *fake) bool { return f.seated }, true, record.None, record.Unanswered},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := good()
			plain := f.value
			f.value = func(channel string) quantity.Measured {
				switch {
				case channel == "vforce" && c.held(f):
					return quantity.Known(quantity.Volts(2))
				case channel == "vbus" && c.dead && !f.seated:
					return quantity.Known(quantity.Volts(0))
				}
				return plain(channel)
			}
			run := play(t, f, letsGo)
			require.Equal(t, c.verdict, run.Verdict, run.Reason)
			require.Equal(t, []string{"falls[normal]", "falls[flipped]"}, failed(run))
			require.Equal(t, c.finds, checkNamed(t, run, "finds[flipped]").Answer)
			require.Equal(t, 1, f.done("unseat"), "nobody takes the unit out twice for one question")
			i := slices.Index(f.log, "unseat S1")
			require.Equal(t, []string{
				"begin ", "empty ", "enter c-supply", "wait vbus", "enter no-termination", "wait vforce", "safe ", "seat S1", "probe ",
				"enter no-termination", "enter c-supply[orientation = normal]",
			}, f.log[i+1:i+12])
			require.True(t, slices.ContainsFunc(run.Notes, func(n record.Note) bool { return n.Kind == "re-seat" }),
				"plugging once more wears the plug")
		})
	}
}

// Something that feeds VBUS without a unit is the bench's, and no lifted
// control is needed to say so.
func TestNestThatIsNotEmptyAfterLiftingIsTheBenchs(t *testing.T) {
	f := good()
	plain := f.value
	f.value = func(channel string) quantity.Measured {
		if channel == "vforce" {
			return quantity.Known(quantity.Volts(5))
		}
		return plain(channel)
	}
	f.fail = func(call, _ string) error {
		if call == "empty" && f.seats > 0 {
			return &bench.Fault{What: "prove the nest empty", Thing: "nest", Err: bench.ErrOccupied}
		}
		return nil
	}
	run := play(t, f, cold+trusting("cold"))
	require.Equal(t, record.None, run.Verdict)
	require.Equal(t, record.Unanswered, checkNamed(t, run, "found").Answer)
	require.Equal(t, 1, f.done("seat"), "the unit is not put back into a nest that is not understood")
}
