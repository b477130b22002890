package linux

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/sys/unix"
)

// ChipInfo is one chip of digital lines as a list shows it.
type ChipInfo struct {
	Path    string   // "/dev/gpiochip0"
	Aliases []string // further devices that lead to the same chip
	Name    string   // the kernel's name, "gpiochip0"
	Label   string   // of the chip's driver
	Lines   []LineInfo
	// Reason is why the chip cannot be used; nil where it can.
	Reason *Reason
}

// LineInfo is one line of a chip as a list shows it.
type LineInfo struct {
	Offset   int
	Name     string // the kernel's name, often empty
	Used     bool   // somebody holds it: a program or the kernel
	Consumer string // who, by the name that it gave itself; it may give none
	Output   bool
	// Flags are what else the kernel says, in plain words.
	Flags []string
}

// Chips lists the chips of the computer by number. A chip that the kernel has
// and the user cannot open stands in the list with its Reason. Some computers
// have a second device for a chip; it is an alias, not a chip.
func (c *Computer) Chips() []ChipInfo {
	var all []ChipInfo
	for _, path := range c.chipPaths() {
		target, err := filepath.EvalSymlinks(path)
		if err != nil {
			target = path
		}
		if i := slices.IndexFunc(all, func(k ChipInfo) bool { return k.Path == target }); i >= 0 {
			all[i].Aliases = append(all[i].Aliases, filepath.Base(path))
			continue
		}
		chip := c.chipInfo(target)
		if base := filepath.Base(path); base != filepath.Base(target) {
			chip.Aliases = []string{base}
		}
		all = append(all, chip)
	}
	return all
}

// chipPaths are the devices of chips by number.
func (c *Computer) chipPaths() []string {
	found, err := filepath.Glob(filepath.Join(c.opts.Dev, "gpiochip*"))
	if err != nil {
		return nil
	}
	number := func(path string) int {
		n, err := strconv.Atoi(strings.TrimPrefix(filepath.Base(path), "gpiochip"))
		if err != nil {
			return -1
		}
		return n
	}
	found = slices.DeleteFunc(found, func(path string) bool { return number(path) < 0 })
	slices.SortFunc(found, func(a, b string) int { return number(a) - number(b) })
	return found
}

// chipInfo asks one chip for all that it tells.
func (c *Computer) chipInfo(path string) ChipInfo {
	chip := ChipInfo{Path: path, Name: filepath.Base(path)}
	fd, err := openDevice(path)
	if err != nil {
		chip.Reason = c.reason(path, err)
		return chip
	}
	defer unix.Close(fd)
	info := new(unix.GPIOChipInfo)
	if err := ask(c.kernel, fd, gpioChipInfo, info); err != nil {
		chip.Reason = &Reason{Kind: Trouble, Thing: path, Hint: "Look at the kernel's messages.", Err: fmt.Errorf("ask the chip: %w", err)}
		return chip
	}
	chip.Name, chip.Label = text(info.Name[:]), text(info.Label[:])
	for i := range info.Lines {
		l, err := c.lineInfo(fd, int(i))
		if err != nil {
			chip.Reason = &Reason{Kind: Unfit, Thing: path, Err: err, Hint: "Use a kernel of 5.10 or later: older ones do not know this way to ask."}
			return chip
		}
		chip.Lines = append(chip.Lines, l)
	}
	return chip
}

// lineInfo asks an open chip about one line.
func (c *Computer) lineInfo(fd, offset int) (LineInfo, error) {
	info := &unix.GPIOV2LineInfo{Offset: uint32(offset)}
	if err := ask(c.kernel, fd, unix.GPIO_V2_GET_LINEINFO_IOCTL, info); err != nil {
		return LineInfo{}, fmt.Errorf("ask about line %d: %w", offset, err)
	}
	return LineInfo{
		Offset: offset, Name: text(info.Name[:]), Consumer: text(info.Consumer[:]),
		Used: info.Flags&flagUsed != 0, Output: info.Flags&flagOutput != 0, Flags: words(info.Flags),
	}, nil
}

// words are the flags of a line beside its direction.
func words(flags uint64) []string {
	var all []string
	for _, f := range []struct {
		bit  uint64
		word string
	}{
		{flagActiveLow, "active low"}, {flagRising, "rising edges"}, {flagFalling, "falling edges"},
		{flagOpenDrain, "open drain"}, {flagOpenSource, "open source"},
		{flagPullUp, "pull-up"}, {flagPullDown, "pull-down"}, {flagBiasDisabled, "no pull"},
	} {
		if flags&f.bit != 0 {
			all = append(all, f.word)
		}
	}
	return all
}

// is tells whether a reference means this chip.
func (k *ChipInfo) is(ref string) bool {
	return ref == k.Label || ref == k.Name || ref == filepath.Base(k.Path) || slices.Contains(k.Aliases, ref)
}

// at is where a line stands, for messages: "gpiochip0:5".
func (k *ChipInfo) at(offset int) string { return k.Name + ":" + strconv.Itoa(offset) }

// spot is one line of a listed chip.
type spot struct {
	chip *ChipInfo
	line LineInfo
}

// FindLine finds a line by "label:offset", "gpiochipN:offset" or by the kernel's
// name for it, without requesting it. The same line is the same *Line whatever
// the reference. The error is a *Reason: ErrReference, ErrAbsent, ErrAmbiguous,
// or why the chip cannot be opened.
func (c *Computer) FindLine(ref string) (*Line, error) {
	r, err := ParseLine(ref)
	if err != nil {
		return nil, &Reason{Kind: Absent, Thing: "line " + strconv.Quote(ref), Hint: "Correct the wiring file.", Err: err}
	}
	found, err := match(c.Chips(), r)
	if err != nil {
		return nil, err
	}
	switch {
	case len(found) == 1:
		return c.line(found[0]), nil
	case len(found) > 1:
		var names []string
		for _, s := range found {
			names = append(names, s.chip.at(s.line.Offset))
		}
		return nil, &Reason{Kind: Ambiguous, Thing: "line " + ref, Hint: "Name the line by its chip and offset.",
			Err: fmt.Errorf("%w: lines %s", ErrAmbiguous, strings.Join(names, ", "))}
	}
	return nil, &Reason{Kind: Absent, Thing: "line " + ref, Err: ErrAbsent, Hint: c.absentHint(filepath.Join(c.opts.Dev, "gpiochip"))}
}

// match lists the lines that a reference fits. A chip that goes by the name
// before the colon is meant, and then no line is called the whole text.
func match(chips []ChipInfo, r LineRef) ([]spot, error) {
	named := 0
	var found []spot
	for i := range chips {
		k := &chips[i]
		if r.Chip == "" || !k.is(r.Chip) {
			continue
		}
		if k.Reason != nil {
			return nil, k.Reason
		}
		named++
		if r.Offset < len(k.Lines) {
			found = append(found, spot{k, k.Lines[r.Offset]})
		}
	}
	if named == 0 {
		return matchName(chips, r.Name)
	}
	if len(found) == 0 {
		return nil, &Reason{Kind: Absent, Thing: "line " + r.String(), Hint: "Correct the offset in the wiring file.",
			Err: fmt.Errorf("%w: the chip has no line %d", ErrAbsent, r.Offset)}
	}
	return found, nil
}

// matchName lists the lines of a name. Where there is none, a chip that could
// not be opened may have it.
func matchName(chips []ChipInfo, name string) ([]spot, error) {
	var found []spot
	var unopened error
	for i := range chips {
		for _, l := range chips[i].Lines {
			if l.Name == name {
				found = append(found, spot{&chips[i], l})
			}
		}
		if r := chips[i].Reason; r != nil && unopened == nil {
			unopened = r
		}
	}
	if len(found) > 0 {
		return found, nil
	}
	return nil, unopened
}

// line gives the one Line of a place.
func (c *Computer) line(s spot) *Line {
	c.mu.Lock()
	defer c.mu.Unlock()
	key := place{s.chip.Path, s.line.Offset}
	if l := c.lines[key]; l != nil {
		return l
	}
	l := newLine(c, s)
	c.lines[key] = l
	return l
}

// holder is who holds a busy line, for the error of a request.
func (c *Computer) holder(fd, offset int) string {
	l, err := c.lineInfo(fd, offset)
	if err != nil {
		return ""
	}
	return l.Consumer
}

// Close releases every line that this Computer has requested. What becomes of an
// output then is the chip's matter: see the doc of the package.
func (c *Computer) Close() error {
	c.mu.Lock()
	defer c.mu.Unlock()
	var all error
	for _, l := range c.lines {
		all = errors.Join(all, l.Close())
	}
	return all
}
