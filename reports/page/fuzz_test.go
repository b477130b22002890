package page

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/page/plot"
	"sinkproof/reports/record"
)

// FuzzReport makes reports of whatever decodes as a run, valid or not: a
// record that somebody else wrote must not stop the page.
func FuzzReport(f *testing.F) {
	for _, run := range append(releasedRuns(f), richRun(), nasty(richRun()), record.Run{}) {
		data, err := json.Marshal(run)
		require.NoError(f, err)
		f.Add(data)
	}
	f.Add([]byte(`{"started":"2026-05-04T07:30:00Z","files":[{}],"waveforms":[{"samples":[1e300,-1e300]},{"samples":[1],"interval_us":-5}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		var run record.Run
		if json.Unmarshal(data, &run) != nil || uneven(run) {
			return
		}
		r := NewReport(run, proof())
		for _, figure := range r.Figures {
			require.NoError(t, figure.Validate())
		}
		page, err := r.HTML()
		if err != nil {
			require.Contains(t, err.Error(), "DataMatrix", "only a serial that is no serial stops a page")
			return
		}
		require.NotContains(t, string(page), "<script")
		require.NotContains(t, strings.ToLower(string(page)), "zgotmplz")
		if _, err = time.Parse(time.RFC3339Nano, run.Started); err == nil {
			_, err = r.PDF()
			require.False(t, errors.Is(err, plot.ErrNotDrawable))
			require.NoError(t, err)
		}
	})
}

// uneven tells whether a waveform has fewer instants than samples, where
// record.Waveform.Instant is documented to panic; decoding a record refuses
// that.
func uneven(run record.Run) bool {
	for _, w := range run.Waveforms {
		if len(w.AtUS) > 0 && len(w.AtUS) != len(w.Samples) {
			return true
		}
	}
	return false
}
