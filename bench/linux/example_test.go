package linux_test

import (
	"errors"
	"fmt"

	"sinkproof/bench/linux"
)

// A computer without buses says why, and what to do. On a bench Dev and Sys are
// left out.
func Example() {
	computer, err := linux.New(linux.Options{Dev: "/nowhere", Sys: "/nowhere"})
	if err != nil {
		fmt.Println(err)
		return
	}
	_, err = computer.OpenBus("1")
	fmt.Println(err)
	var why *linux.Reason
	if errors.As(err, &why) {
		fmt.Println(why.Kind)
	}
	// Output:
	// bus 1: the computer has none
	// absent
}

// A line is named by its chip and offset, or by the kernel's name for it.
func ExampleParseLine() {
	for _, ref := range []string{"/dev/gpiochip0:5", "relays:3", "GPIO17"} {
		r, err := linux.ParseLine(ref)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%s: chip %q, offset %d\n", r, r.Chip, r.Offset)
	}
	// Output:
	// gpiochip0:5: chip "gpiochip0", offset 5
	// relays:3: chip "relays", offset 3
	// GPIO17: chip "", offset 0
}
