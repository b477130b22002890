package main

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"
)

// Whoever reads a yield must see which of the runs are no evidence.
func TestYieldSaysWhatWasSimulated(t *testing.T) {
	for name, c := range map[string]struct {
		report yieldReport
		want   string
	}{
		"none":  {yieldReport{Runs: 7}, ""},
		"all":   {yieldReport{Runs: 7, Twin: 7, Simulated: true}, "All of these runs were simulated: they are no evidence about units that exist."},
		"some":  {yieldReport{Runs: 7, Twin: 2, Simulated: true}, "2 of these 7 runs were simulated. Counted among the others, they leave no evidence about units that exist."},
		"empty": {yieldReport{}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			var out bytes.Buffer
			require.NoError(t, c.report.print(&out))
			html, err := c.report.view("").HTML()
			require.NoError(t, err)
			if c.want == "" {
				require.NotContains(t, out.String()+string(html), "imulated")
				return
			}
			require.Contains(t, out.String(), "\n"+c.want+"\n")
			require.Contains(t, string(html), "<strong>Simulated bench.</strong> "+c.want)
		})
	}
}
