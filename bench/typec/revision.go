package typec

import "fmt"

// Revision selects a generation of the CC voltage tables.
type Revision int

const (
	// R20 stands for R1.0 to R2.3, whose windows are rounded.
	R20 Revision = iota
	// R25 stands for R2.4 and later, whose windows are computed.
	R25
)

// String returns "R2.0" or "R2.5".
func (r Revision) String() string {
	if r == R25 {
		return "R2.5"
	}
	return "R2.0"
}

// Revisions returns both generations, the older first.
func Revisions() []Revision { return []Revision{R20, R25} }

// ParseRevision is the inverse of String.
func ParseRevision(text string) (Revision, error) {
	for _, r := range Revisions() {
		if r.String() == text {
			return r, nil
		}
	}
	return 0, fmt.Errorf("revision %q of the CC voltage tables: want \"R2.0\" or \"R2.5\"", text)
}

// Advertisement is the current that a source offers by its pull-up.
type Advertisement int

const (
	// Default is the USB default: 500 mA, or 900 mA with USB 3.x data.
	Default Advertisement = iota
	// A1500 is 1.5 A.
	A1500
	// A3000 is 3.0 A.
	A3000
)

// String returns "default", "1.5 A" or "3.0 A".
func (a Advertisement) String() string {
	switch a {
	case A1500:
		return "1.5 A"
	case A3000:
		return "3.0 A"
	}
	return "default"
}

// Advertisements returns the three in rising order.
func Advertisements() []Advertisement { return []Advertisement{Default, A1500, A3000} }

// ParseAdvertisement is the inverse of String.
func ParseAdvertisement(text string) (Advertisement, error) {
	for _, a := range Advertisements() {
		if a.String() == text {
			return a, nil
		}
	}
	return 0, fmt.Errorf("advertisement %q: want \"default\", \"1.5 A\" or \"3.0 A\"", text)
}
