package chips

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// replay feeds a chip with what the bytes say: a pause, a length, that many
// bytes to write, and a read of five bytes after each.
func replay(b *bench, script []byte) {
	r := make([]byte, 5)
	for len(script) >= 2 {
		pause, n := time.Duration(script[0])*100*time.Microsecond, min(int(script[1]&7), len(script)-2)
		b.pass(pause)
		b.device.Write(b.now, script[2:2+n])
		b.device.Read(b.now, r)
		script = script[2+n:]
	}
}

// seedScripts are conversations as a driver would hold them.
func seedScripts(f *testing.F) {
	f.Add([]byte{0, 3, 1, 0xc3, 0xe3, 20, 1, 0})
	f.Add([]byte{0, 3, 0, 0x41, 0x27, 30, 1, 1, 0, 3, 5, 8, 0})
	f.Add([]byte{0, 2, 0x0a, 0x20, 0, 3, 0x00, 0, 0, 0, 3, 0x12, 0xff, 0xff})
	f.Add([]byte{0, 2, 1, 1, 0, 2, 1, 0x81, 255, 1, 0})
}

func FuzzADC(f *testing.F) {
	seedScripts(f)
	f.Fuzz(func(t *testing.T, script []byte) {
		b, c := newADC(ADCOptions{}, 1, 2, 3, 4)
		replay(b, script)
		c.Alert(b.now)
		b.pass(200 * time.Millisecond)
		start(b, 0x83e3)
		b.pass(200 * time.Millisecond)
		start(b, 0xd3e3)
		b.pass(2 * time.Millisecond)
		require.InDelta(t, 2, float64(int16(b.get(adcConversion)))*125e-6, 1e-3)
	})
}

func FuzzMonitor(f *testing.F) {
	seedScripts(f)
	f.Fuzz(func(t *testing.T, script []byte) {
		b, m := newMonitor(10e-3, 5, MonitorOptions{})
		replay(b, script)
		m.Alert(b.now)
		b.put(monConfig, 0x80, 0)
		b.pass(3 * time.Millisecond)
		require.Equal(t, uint16(4000), b.get(monShunt))
	})
}

func FuzzExpander(f *testing.F) {
	seedScripts(f)
	f.Fuzz(func(t *testing.T, script []byte) {
		var high uint16
		e := NewExpander(func(_ time.Duration, h uint16) { high = h })
		for len(script) >= 1 {
			n := min(int(script[0]&7)+1, len(script))
			e.Write(0, script[1:n])
			script = script[n:]
		}
		require.Equal(t, e.High(), high, "who follows the pins knows them")
	})
}

func FuzzThermometer(f *testing.F) {
	seedScripts(f)
	f.Fuzz(func(t *testing.T, script []byte) {
		d := newThermometer(25, ThermometerOptions{})
		for i, b := range script {
			d.Write(time.Duration(i)*time.Millisecond, script[i:min(len(script), i+int(b&3))])
		}
		now := time.Hour
		d.Write(now, []byte{1, 0})
		require.Equal(t, uint16(0x1900), readWord(d, now+time.Second, 0))
	})
}
