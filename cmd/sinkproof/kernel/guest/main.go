//go:build linux

// Command guest is the first and only process that the emulated machine
// starts. It mounts what the kernel offers, loads the modules that lie in
// /modules in the order of /modules/list, tells the host that it is ready, and
// then does what the host asks for: it runs programs, and it copies between the
// kernel's user-made devices (HID by /dev/uhid, USB by USB/IP) and the serial
// ports on which the host plays these devices.
package main

import (
	"bufio"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"golang.org/x/sys/unix"

	"sinkproof/cmd/sinkproof/kernel/wire"
)

func main() {
	if err := work(); err != nil {
		fmt.Fprintln(os.Stderr, "guest:", err)
	}
	if os.Getpid() != 1 {
		return
	}
	unix.Sync()
	_ = unix.Reboot(unix.LINUX_REBOOT_CMD_POWER_OFF)
}

// work is what the process is for: the machine's first, or a pump.
func work() error {
	if err := slacken(); err != nil {
		return err
	}
	if len(os.Args) > 1 {
		switch os.Args[1] {
		case "hid":
			return runPump("hid", uhids{})
		case "usb":
			return runPump("usb", usbs{})
		}
	}
	return serve()
}

// serve works until the control port ends.
func serve() error {
	for _, m := range [][3]string{
		{"proc", "/proc", "proc"}, {"sysfs", "/sys", "sysfs"}, {"devtmpfs", "/dev", "devtmpfs"}, {"tmpfs", "/tmp", "tmpfs"},
	} {
		if err := mount(m[0], m[1], m[2], 0, ""); err != nil {
			return err
		}
	}
	if err := unix.Sethostname([]byte("emulated")); err != nil {
		return fmt.Errorf("name the machine: %w", err)
	}
	if err := loadAll("/modules"); err != nil {
		return err
	}
	control, err := openPort("control")
	if err != nil {
		return err
	}
	for _, name := range []string{"hid", "usb"} {
		if err := startPump(name); err != nil {
			return err
		}
	}
	return serveControl(port{control})
}

func mount(source, target, kind string, flags uintptr, options string) error {
	if err := os.MkdirAll(target, 0o755); err != nil {
		return fmt.Errorf("mount %s: %w", target, err)
	}
	if err := unix.Mount(source, target, kind, flags, options); err != nil {
		return fmt.Errorf("mount %s of type %s on %s: %w", source, kind, target, err)
	}
	return nil
}

// loadAll loads the modules of a folder in the order of its list.
func loadAll(folder string) error {
	list, err := os.ReadFile(filepath.Join(folder, "list"))
	if err != nil {
		return fmt.Errorf("which modules: %w", err)
	}
	for name := range strings.FieldsSeq(string(list)) {
		if err := load(filepath.Join(folder, name)); err != nil {
			return err
		}
	}
	return nil
}

func load(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("load module: %w", err)
	}
	defer f.Close()
	if err := unix.FinitModule(int(f.Fd()), "", 0); err != nil {
		return fmt.Errorf("load module %s: %w", path, err)
	}
	return nil
}

// port is a serial port to the host.
type port struct{ rawFile }

// rawFile is an open file that blocks.
type rawFile int

// Read blocks until there is something.
func (f rawFile) Read(b []byte) (int, error) {
	for {
		n, err := unix.Read(int(f), b)
		switch {
		case err == unix.EINTR:
			continue
		case err != nil:
			return 0, fmt.Errorf("read: %w", err)
		case n == 0:
			return 0, os.ErrClosed
		}
		return n, nil
	}
}

// Write writes everything.
func (f rawFile) Write(b []byte) (int, error) {
	for done := 0; done < len(b); {
		n, err := unix.Write(int(f), b[done:])
		if err == unix.EINTR {
			continue
		}
		if err != nil {
			return done, fmt.Errorf("write: %w", err)
		}
		done += n
	}
	return len(b), nil
}

// patience is how long a device may take to appear: far above the tenth of a
// second that it takes, for slow emulation.
const patience = 10 * time.Second

// openPort finds the port of a name; the kernel lists them with the numbers of
// their device files.
func openPort(name string) (rawFile, error) {
	for end := time.Now().Add(patience); ; time.Sleep(time.Millisecond) {
		found, _ := filepath.Glob("/sys/class/virtio-ports/*/name")
		for _, f := range found {
			if text, err := os.ReadFile(f); err == nil && strings.TrimSpace(string(text)) == name {
				fd, err := unix.Open("/dev/"+filepath.Base(filepath.Dir(f)), unix.O_RDWR|unix.O_CLOEXEC, 0)
				if err == nil {
					return rawFile(fd), nil
				}
			}
		}
		if len(found) > 0 || time.Now().After(end) {
			return 0, fmt.Errorf("the machine has no port %q", name)
		}
	}
}

// frames calls do for every frame of a port until it ends.
func (p port) frames(do func(wire.Frame)) error {
	in := bufio.NewReaderSize(p, 1<<16)
	for {
		f, err := wire.Read(in)
		if err != nil {
			return err
		}
		do(f)
	}
}
