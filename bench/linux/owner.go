package linux

import (
	"fmt"
	"os/user"
	"slices"
	"strconv"

	"golang.org/x/sys/unix"
)

// owner is who may open a device.
type owner struct {
	group string
	gid   int
	mode  uint32
}

// person is who asks: the user of this process.
type person struct {
	name   string
	active []int // the groups that this process has
	listed []int // the groups that the user has by the system's list
}

// groupRW are the bits of a mode that let the group read and write.
const groupRW = 0o060

// explain says in plain words why a person may not open the device at path, and
// what to do.
func (o owner) explain(path string, p person) (why, hint string) {
	switch {
	case o.mode&groupRW != groupRW:
		return fmt.Sprintf("its mode %#o lets no group use it", o.mode&0o777),
			fmt.Sprintf("Give %s to a group with a udev rule, and put %s into that group.", path, p.name)
	case slices.Contains(p.active, o.gid):
		return fmt.Sprintf("%s is in its group %s; something else forbids it", p.name, o.group),
			"Look at the sandbox of the service, or at the system's security module."
	case slices.Contains(p.listed, o.gid):
		return fmt.Sprintf("it belongs to the group %s, which %s joined after this session began", o.group, p.name),
			"Log out and in again, or restart the service."
	case o.gid == 0:
		return fmt.Sprintf("it belongs to the group %s, and %s is not in it", o.group, p.name),
			fmt.Sprintf("Give %s to a group of its own with a udev rule, and put %s into that group.", path, p.name)
	}
	return fmt.Sprintf("it belongs to the group %s, and %s is not in it", o.group, p.name),
		fmt.Sprintf("Put the user into the group as root, \"usermod -aG %s %s\", then log in again.", o.group, p.name)
}

// present is the user of this process. What the system's lists do not tell
// stays empty.
func present() person {
	p := person{name: "user " + strconv.Itoa(unix.Geteuid()), active: []int{unix.Getegid()}}
	if more, err := unix.Getgroups(); err == nil {
		p.active = append(p.active, more...)
	}
	u, err := user.LookupId(strconv.Itoa(unix.Geteuid()))
	if err != nil {
		return p
	}
	p.name = u.Username
	ids, err := u.GroupIds()
	if err != nil {
		return p
	}
	for _, id := range ids {
		if n, err := strconv.Atoi(id); err == nil {
			p.listed = append(p.listed, n)
		}
	}
	return p
}

// groupName is the name of a group, or its number where it has none.
func groupName(gid uint32) string {
	id := strconv.FormatUint(uint64(gid), 10)
	g, err := user.LookupGroupId(id)
	if err != nil {
		return id
	}
	return g.Name
}
