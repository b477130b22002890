package ledger

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

// answered makes a ledger of five runs of one check and returns a view: LMP-1
// twice, LMP-2 of another lot and supplier, LMP-3 of another product, LMP-4
// interrupted.
func answered(t *testing.T) *View {
	t.Helper()
	path := t.TempDir() + "/bench.ledger"
	l := reopen(t, path)
	for n, change := range []func(*record.Opening){
		func(*record.Opening) {},
		func(o *record.Opening) { o.Serial, o.Lot, o.Supplier = "LMP-2", "2026-20", "board house B" },
		func(o *record.Opening) { o.Serial, o.Product = "LMP-3", "torch" },
		func(*record.Opening) {},
		func(o *record.Opening) { o.Serial = "LMP-4" },
	} {
		o := opening(n, "LMP-1")
		change(&o)
		o, _, err := l.OpenRun(context.Background(), o)
		require.NoError(t, err)
		if o.Serial == "LMP-4" {
			_, err := l.InterruptRun(context.Background(), o.ID, "power went")
			require.NoError(t, err)
			continue
		}
		r := runOf(o, record.Pass)
		r.Checks[0].Value.Value = float64(5100 + n)
		_, err = l.CloseRun(context.Background(), r)
		require.NoError(t, err)
	}
	require.NoError(t, l.Close())
	v, err := OpenView(context.Background(), path)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, v.Close()) })
	return v
}

func TestReadings(t *testing.T) {
	v := answered(t)
	for _, c := range []struct {
		name string
		q    Question
		want []float64
	}{
		{"all", Question{Check: "rd-cc1"}, []float64{5100, 5101, 5102, 5103}},
		{"another check", Question{Check: "c-normal"}, nil},
		{"product", Question{Check: "rd-cc1", Product: "torch"}, []float64{5102}},
		{"lot", Question{Check: "rd-cc1", Lot: "2026-20"}, []float64{5101}},
		{"supplier", Question{Check: "rd-cc1", Supplier: "board house A"}, []float64{5100, 5102, 5103}},
		{"several", Question{Check: "rd-cc1", Supplier: "board house A", Product: "bicycle lamp"}, []float64{5100, 5103}},
		{"first runs", Question{Check: "rd-cc1", First: true}, []float64{5100, 5101, 5102}},
		{"since the start of the second", Question{Check: "rd-cc1", Since: time.Date(2026, 5, 4, 7, 30, 1, 250_000_000, time.UTC)}, []float64{5101, 5102, 5103}},
		{"since later", Question{Check: "rd-cc1", Since: time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC)}, nil},
		{"a text that looks like a statement", Question{Check: "rd-cc1", Lot: "x' or '1'='1"}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			var got []float64
			for f, err := range v.Readings(context.Background(), c.q) {
				require.NoError(t, err)
				require.Equal(t, "rd-cc1", f.Check.Name)
				require.NotEmpty(t, f.Serial)
				got = append(got, f.Check.Value.Value)
			}
			require.Equal(t, c.want, got)
		})
	}
}

func TestReadingsEndWhereTheCallerDoes(t *testing.T) {
	n := 0
	for _, err := range answered(t).Readings(context.Background(), Question{Check: "rd-cc1"}) {
		require.NoError(t, err)
		n++
		break
	}
	require.Equal(t, 1, n)
}

func TestReadingsOfAnAlteredRecordAreRefused(t *testing.T) {
	path := filled(t)
	alter(t, path, "update entries set entry = x'00' where seq = 2")
	v, err := OpenView(context.Background(), path)
	require.NoError(t, err)
	defer func() { require.NoError(t, v.Close()) }()
	var last error
	for _, err := range v.Readings(context.Background(), Question{Check: "rd-cc1"}) {
		last = err
	}
	require.Error(t, last)
	require.ErrorContains(t, last, "rd-cc1")
}

func TestReadingsStopWhenInterrupted(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	stop()
	for _, err := range answered(t).Readings(ctx, Question{Check: "rd-cc1"}) {
		require.ErrorIs(t, err, context.Canceled)
	}
}
