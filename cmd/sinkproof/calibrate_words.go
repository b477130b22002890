package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"sinkproof/bench/quantity"
	"sinkproof/reports/record"
)

// printCalibration prints what was found of each channel.
func printCalibration(w io.Writer, doc record.Calibration) error {
	fmt.Fprintf(w, "calibration %s, due %s\n", doc.ID, doc.Due)
	carried := 0
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "CHANNEL\tPOINTS\tGAIN WAS OFF BY\tOFFSET WAS\tU BEFORE\tU NOW")
	for _, k := range doc.Channels {
		if k.From != "" {
			carried++
			continue
		}
		dim, err := record.Dimension(k.Unit)
		if err != nil {
			return err
		}
		of := func(si float64) string { return quantity.Quantity{SI: si, Dim: dim}.Text(2) }
		gain, offset := fmt.Sprintf("%.3f %%", 100*(1/k.Slope-1)), of(offsetFound(k))
		switch { // one point shows one of them, as on the certificate
		case len(k.Points) == 1 && k.Unit == "K":
			gain = notSeen
		case len(k.Points) == 1:
			offset = notSeen
		}
		fmt.Fprintf(t, "%s\t%d\t%s\t%s\t±%s\t±%s\n", strings.TrimSpace(k.Channel+" "+k.Range), len(k.Points), gain, offset, of(k.UBefore), of(k.UAfter))
	}
	if err := t.Flush(); err != nil {
		return fmt.Errorf("print the calibration: %w", err)
	}
	fmt.Fprintln(w, "U is the expanded uncertainty (k = 2) of a reading at the highest point, of a current at the top of its range.")
	if carried > 0 {
		fmt.Fprintf(w, "%d channels carried over from earlier calibrations\n", carried)
	}
	return nil
}

// notSeen stands for what a single point cannot show.
const notSeen = "not seen"

// offsetFound is how far a channel was off: at zero, but for a temperature where
// it was compared.
func offsetFound(k record.CalibratedChannel) float64 {
	if k.Unit == "K" {
		return k.Centre - k.Level
	}
	return -k.Corrected(0)
}
