package statistics

import (
	"errors"
	"math"
	"strconv"

	"github.com/spf13/pflag"
)

// number is a flag that holds a finite number, or none while it is not set.
type number struct {
	value float64
	set   bool
}

func (n *number) String() string {
	if !n.set {
		return ""
	}
	return strconv.FormatFloat(n.value, 'g', -1, 64)
}

// Set reads the number.
func (n *number) Set(text string) error {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return errors.New("a number is wanted")
	}
	n.value, n.set = v, true
	return nil
}

// Type is what the help calls it.
func (n *number) Type() string { return "number" }

// or returns the number, or what stands for one that is not set.
func (n *number) or(v float64) float64 {
	if n.set {
		return n.value
	}
	return v
}

func (n *number) add(fs *pflag.FlagSet, name, usage string) { fs.Var(n, name, usage) }

// confidence is a flag between 0 and 1.
type confidence struct{ number }

// Set reads the confidence and refuses one in percent.
func (c *confidence) Set(text string) error {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !(v > 0 && v < 1) {
		return errors.New("a number between 0 and 1 is wanted, such as 0.95")
	}
	c.value, c.set = v, true
	return nil
}

// usual is the confidence where none was asked for.
const usual = 0.95

func (c *confidence) add(fs *pflag.FlagSet) {
	c.value, c.set = usual, true
	fs.Var(c, "confidence", "confidence of the intervals, between 0 and 1")
}
