package page

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

func sampleCertificate() Certificate {
	return NewCertificate(record.Calibration{
		ID: "01890a5d-ac96-774b-bcce-b302099a8059", Bench: record.Bench{Name: "bench 3", Kind: record.Hardware, Program: "0.1.0"},
		Made: "2026-05-04T06:00:00Z", Due: "2027-05-04T06:00:00Z", By: "A. <Engineer>",
		Wiring: record.File{Role: record.RoleWiring, Name: "own rig", Version: "3", SHA256: strings.Repeat("0a", 32)},
		Channels: []record.CalibratedChannel{
			{Channel: "vbus", Unit: "V", Reference: record.Reference{Name: "meter 7", Certificate: "C-17", GainStd: 5e-5, OffsetStd: 1e-4},
				Points: []record.CalibratedPoint{{State: "isolated", Reading: 0.001, Reference: 0}, {State: "bleeder", Reading: 2.5, Reference: 2.503},
					{State: "legacy", Reading: 5.08, Reference: 5.0871}},
				Centre: 2.527, Level: 2.5300333, Slope: 1.0016, LevelStd: 1e-5, SlopeStd: 4e-6, DOF: 1, UBefore: 0.0098, UAfter: 0.0011},
			{Channel: "rail", Unit: "V", Reference: record.Reference{Name: "meter 7", Certificate: "C-17", GainStd: 5e-5, OffsetStd: 1e-4},
				Points: []record.CalibratedPoint{{State: "isolated", Reading: 3.3, Reference: 3.3033}}, Slope: 1.001, UBefore: 0.006, UAfter: 0.001},
		},
	}, Proof{Hash: strings.Repeat("ab", 32), Seq: 7, Key: strings.Repeat("cd", 16)})
}

func TestCertificatePage(t *testing.T) {
	page, err := sampleCertificate().HTML()
	require.NoError(t, err)
	elements, text := parsed(t, page)
	for _, want := range []string{
		"2 channels of bench 3 were compared", "A. <Engineer>", "meter 7, certificate C-17, U = 0.01\u00a0% of the value and 200 µV (k = 2)",
		"value = 2.53003 V + 1.001600 · (reading − 2.52700 V)", "-0.160\u00a0%", "±9.8 mV", "±1.1 mV", "bleeder", "-3.0 mV", "not seen",
		"7 of this bench's chain", "own rig 3",
	} {
		require.Contains(t, text, want)
	}
	require.Equal(t, 1, strings.Count(text, "certificate C-17"), "one reference is named once")
	figures := 0
	for _, e := range elements {
		require.NotContains(t, []string{"script", "link", "img"}, e.name)
		if e.name == "figure" {
			figures++
		}
	}
	require.Equal(t, 1, figures, "one point makes no curve")
	require.NotContains(t, text, "Simulated bench")
	again, err := sampleCertificate().HTML()
	require.NoError(t, err)
	require.Equal(t, string(page), string(again))
}

// Channels that were compared earlier are told from those of today, and a
// thermometer has no gain to be off by.
func TestCertificateOfCarriedOverChannels(t *testing.T) {
	from := "01890a5d-ac96-774b-bcce-b302099a8011"
	reference := record.Reference{Name: "thermometer 2", OffsetStd: 0.05}
	c := NewCertificate(record.Calibration{
		ID: "01890a5d-ac96-774b-bcce-b302099a8059", Bench: record.Bench{Name: "bench 3"}, Made: "2026-05-04T06:00:00Z", Due: "2027-05-04T06:00:00Z",
		Channels: []record.CalibratedChannel{
			{Channel: "temperature", Unit: "K", Reference: reference, Centre: 296.4, Level: 297, Slope: 1,
				Points: []record.CalibratedPoint{{State: "isolated", Reading: 296.4, Reference: 297}}},
			{Channel: "ibus", Range: "low", From: from, Unit: "A", Slope: 1, Points: []record.CalibratedPoint{{State: "a"}, {State: "b"}}},
		},
	}, Proof{})
	require.Contains(t, c.Lead, "The readings of one channel of bench 3 were compared")
	require.Contains(t, c.Lead, "The readings of one channel were compared earlier and are carried over.")
	require.Equal(t, "not seen", c.Results[0].Gain)
	require.Equal(t, "-600 mK", c.Results[0].Offset)
	require.Equal(t, "ibus low, carried over from calibration "+from, c.Channels[1].Title)
}

func TestCertificateOfTheTwinSaysSo(t *testing.T) {
	c := sampleCertificate()
	c.Twin = true
	page, err := c.HTML()
	require.NoError(t, err)
	require.Contains(t, string(page), "no evidence about a bench that exists")
}

func TestCertificatePDF(t *testing.T) {
	data, err := sampleCertificate().PDF()
	require.NoError(t, err)
	again, err := sampleCertificate().PDF()
	require.NoError(t, err)
	require.Equal(t, data, again)
	text := pdfText(t, data)
	for _, want := range []string{"Certificate of calibration", "meter 7", "vbus", "rail", "legacy", "−U now", "Evidence"} {
		require.Contains(t, text, want)
	}
}

func TestUncalibratedRunSaysSo(t *testing.T) {
	require.Contains(t, calibrationText("", "the reference is away"), "the reference is away")
	require.Equal(t, "c-1", calibrationText("c-1", ""))
}
