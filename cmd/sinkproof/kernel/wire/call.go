package wire

// Program is what Start runs.
type Program struct {
	Path string   `json:"path"`
	Args []string `json:"args"`
	Env  []string `json:"env"`
	Dir  string   `json:"dir"`
}

// Exit is how a program ended.
type Exit struct {
	Code   int    `json:"code"`   // of a program that ended by itself, else -1
	Signal int    `json:"signal"` // that ended it, else 0
	Error  string `json:"error"`  // why it could not be started
}

// Call is something that the guest does itself.
type Call struct {
	Do Deed `json:"do"`
	// Path is a file, a folder or the point of a mount.
	Path string `json:"path"`
	Data []byte `json:"data,omitempty"`
	Mode uint32 `json:"mode,omitempty"`
	// Of a mount.
	Source  string  `json:"source,omitempty"`
	Type    string  `json:"type,omitempty"`
	Flags   uintptr `json:"flags,omitempty"`
	Options string  `json:"options,omitempty"`
}

// Deed names what a call does.
type Deed string

// The deeds.
const (
	WriteFile  Deed = "write"   // Data to Path, its folders included
	ReadFile   Deed = "read"    // Path, into the reply
	MakeFolder Deed = "mkdir"   // Path and those above it
	Remove     Deed = "remove"  // Path with everything below it
	Mount      Deed = "mount"   // Source of Type onto Path
	Unmount    Deed = "unmount" // Path
	ListFolder Deed = "list"    // names in Path, a line each, into the reply
)

// Reply answers a call. Errno is the number behind Error, where there is one.
type Reply struct {
	Error string `json:"error,omitempty"`
	Errno int    `json:"errno,omitempty"`
	Data  []byte `json:"data,omitempty"`
}
