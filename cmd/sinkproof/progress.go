package main

import (
	"fmt"
	"strings"
	"sync"
	"time"
)

// progressBar shows how far many units are, on a terminal only.
type progressBar struct {
	screen *screen
	of     int
	start  time.Time
	guard  sync.Mutex
	shown  time.Time
}

func newProgressBar(s *screen, of int) *progressBar {
	return &progressBar{screen: s, of: of, start: time.Now()}
}

// barEvery is how often the bar is drawn.
const barEvery = 200 * time.Millisecond

// done is told how many units are done, from any goroutine.
func (b *progressBar) done(units int) {
	if !b.screen.live {
		return
	}
	b.guard.Lock()
	defer b.guard.Unlock()
	now := time.Now()
	if now.Sub(b.shown) < barEvery {
		return
	}
	b.shown = now
	fmt.Fprint(b.screen.w, wipe, barText(units, b.of, now.Sub(b.start)))
}

// end takes the bar away.
func (b *progressBar) end() {
	if b.screen.live {
		fmt.Fprint(b.screen.w, wipe)
	}
}

// barText is the bar with the time that is left at the pace so far.
func barText(done, of int, spent time.Duration) string {
	const width = 30
	full := width * done / max(1, of)
	text := fmt.Sprintf("%s%s %d of %d", strings.Repeat("█", full), strings.Repeat("░", width-full), done, of)
	if done == 0 {
		return text
	}
	left := time.Duration(float64(spent) * float64(of-done) / float64(done))
	return text + fmt.Sprintf(", %s left", left.Round(time.Second))
}
