package typec

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/quantity"
)

func terminationNamed(t *testing.T, name string) Termination {
	t.Helper()
	for _, x := range []Termination{Ra, Rd, Open} {
		if x.String() == name {
			return x
		}
	}
	t.Fatalf("no termination %q", name)
	return Unknown
}

func TestConnectionStates(t *testing.T) {
	rows := readCSV(t, "attach.csv")
	require.Len(t, rows, 9)
	for _, row := range rows {
		t.Run(row["cc1"]+" and "+row["cc2"], func(t *testing.T) {
			got := Attach(terminationNamed(t, row["cc1"]), terminationNamed(t, row["cc2"]))
			require.Equal(t, row["meaning"], got.Attachment.String())
			require.Equal(t, row["vbus"] == "yes", got.VBUS)
			require.Equal(t, row["cc"], got.CC.String())
			require.Equal(t, row["vconn"], got.VCONN.String())
		})
	}
}

func TestAttachOfEveryPair(t *testing.T) {
	all := []Termination{Unknown, Ra, RaOrRd, Rd, RdOrOpen, Open}
	swap := map[Pin]Pin{NoPin: NoPin, CC1: CC2, CC2: CC1}
	for _, a := range all {
		for _, b := range all {
			got, flipped := Attach(a, b), Attach(b, a)
			require.Equal(t, got.Attachment, flipped.Attachment, "%v %v", a, b)
			require.Equal(t, got.VBUS, flipped.VBUS)
			require.Equal(t, swap[got.CC], flipped.CC)
			require.Equal(t, swap[got.VCONN], flipped.VCONN)
			require.Equal(t, got.VBUS, got.CC != NoPin, "VBUS only with an orientation")
			if a.Between() || b.Between() || a == Unknown || b == Unknown {
				require.Equal(t, Action{Attachment: Undecided}, got)
			}
		}
	}
	require.Equal(t, "undecided", Undecided.String())
}

func TestFieldFaultsAtASource(t *testing.T) {
	// What a 3.0 A current source sees of the faults that were met in shipped
	// boards, wire by wire: one Rd shared by both pins is fed by the cable's far
	// Ra, so a marked cable turns it into Ra and Ra, and there is no VBUS.
	sees := func(ohms ...float64) Termination {
		return Decide(quantity.Volts(NominalPullUp(A3000, CurrentSource).Volts(ParallelOhms(ohms...))), A3000)
	}
	const rd, ra = 5100, 1000
	require.True(t, Attach(sees(rd), sees()).VBUS, "good, plain cable")
	require.True(t, Attach(sees(rd), sees(ra)).VBUS, "good, marked cable")
	require.True(t, Attach(sees(rd), sees()).VBUS, "shared Rd, plain cable: hidden")
	require.Equal(t, BothRa, Attach(sees(rd, ra), sees(ra)).Attachment, "shared Rd, marked cable")
	require.Equal(t, Nothing, Attach(sees(), sees()).Attachment, "no Rd")
	require.Equal(t, CableOnly, Attach(sees(), sees(ra)).Attachment, "no Rd, marked cable")
	require.Equal(t, Nothing, Attach(sees(51e3), sees()).Attachment, "51 kΩ")
	require.Equal(t, CableOnly, Attach(sees(510), sees()).Attachment, "510 Ω")
	require.False(t, Attach(sees(10e3), sees()).VBUS, "10 kΩ at 3.0 A")
}
