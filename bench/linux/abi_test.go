package linux

import (
	"testing"
	"unsafe"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// The numbers of the tables are what a C compiler says of the headers of Linux
// 6.1, include/uapi/linux/gpio.h, i2c.h and i2c-dev.h (package linux-libc-dev of
// Debian 12, amd64).
func TestStructuresHaveTheKernelsLayout(t *testing.T) {
	word := unsafe.Sizeof(uintptr(0)) // pointers make struct i2c_msg smaller on 32 bits
	for _, c := range []struct {
		name      string
		got, want uintptr
	}{
		{"gpiochip_info", unsafe.Sizeof(unix.GPIOChipInfo{}), 68},
		{"gpio_v2_line_values", unsafe.Sizeof(unix.GPIOV2LineValues{}), 16},
		{"gpio_v2_line_attribute", unsafe.Sizeof(unix.GPIOV2LineAttribute{}), 16},
		{"gpio_v2_line_attribute.values", unsafe.Offsetof(unix.GPIOV2LineAttribute{}.Flags), 8},
		{"gpio_v2_line_config_attribute", unsafe.Sizeof(unix.GPIOV2LineConfigAttribute{}), 24},
		{"gpio_v2_line_config", unsafe.Sizeof(unix.GPIOV2LineConfig{}), 272},
		{"gpio_v2_line_config.attrs", unsafe.Offsetof(unix.GPIOV2LineConfig{}.Attrs), 32},
		{"gpio_v2_line_request", unsafe.Sizeof(unix.GPIOV2LineRequest{}), 592},
		{"gpio_v2_line_request.consumer", unsafe.Offsetof(unix.GPIOV2LineRequest{}.Consumer), 256},
		{"gpio_v2_line_request.config", unsafe.Offsetof(unix.GPIOV2LineRequest{}.Config), 288},
		{"gpio_v2_line_request.num_lines", unsafe.Offsetof(unix.GPIOV2LineRequest{}.Num_lines), 560},
		{"gpio_v2_line_request.fd", unsafe.Offsetof(unix.GPIOV2LineRequest{}.Fd), 588},
		{"gpio_v2_line_info", unsafe.Sizeof(unix.GPIOV2LineInfo{}), 256},
		{"gpio_v2_line_info.consumer", unsafe.Offsetof(unix.GPIOV2LineInfo{}.Consumer), 32},
		{"gpio_v2_line_info.offset", unsafe.Offsetof(unix.GPIOV2LineInfo{}.Offset), 64},
		{"gpio_v2_line_info.flags", unsafe.Offsetof(unix.GPIOV2LineInfo{}.Flags), 72},
		{"gpio_v2_line_event", unsafe.Sizeof(unix.GPIOV2LineEvent{}), 48},
		{"i2c_msg", unsafe.Sizeof(message{}), 8 + word},
		{"i2c_msg.flags", unsafe.Offsetof(message{}.flags), 2},
		{"i2c_msg.len", unsafe.Offsetof(message{}.length), 4},
		{"i2c_msg.buf", unsafe.Offsetof(message{}.buf), 8},
		{"i2c_rdwr_ioctl_data", unsafe.Sizeof(transfer{}), 2 * word},
		{"i2c_rdwr_ioctl_data.nmsgs", unsafe.Offsetof(transfer{}.count), word},
	} {
		require.Equal(t, c.want, c.got, c.name)
	}
}

// iowr is _IOC of include/uapi/asm-generic/ioctl.h, as amd64, arm64 and arm have
// it: direction in bits 30 and 31, size in 16 to 29, type in 8 to 15, number.
func iowr(direction, number, size uintptr) uintptr {
	return direction<<30 | size<<16 | 0xB4<<8 | number
}

func TestRequestsHaveTheKernelsNumbers(t *testing.T) {
	const read, both = 2, 3
	for _, c := range []struct {
		name           string
		got, want, ioc uintptr
	}{
		{"GPIO_GET_CHIPINFO_IOCTL", gpioChipInfo, 0x8044b401, iowr(read, 0x01, unsafe.Sizeof(unix.GPIOChipInfo{}))},
		{"GPIO_V2_GET_LINEINFO_IOCTL", unix.GPIO_V2_GET_LINEINFO_IOCTL, 0xc100b405, iowr(both, 0x05, unsafe.Sizeof(unix.GPIOV2LineInfo{}))},
		{"GPIO_V2_GET_LINE_IOCTL", unix.GPIO_V2_GET_LINE_IOCTL, 0xc250b407, iowr(both, 0x07, unsafe.Sizeof(unix.GPIOV2LineRequest{}))},
		{"GPIO_V2_LINE_SET_CONFIG_IOCTL", gpioSetConfig, 0xc110b40d, iowr(both, 0x0D, unsafe.Sizeof(unix.GPIOV2LineConfig{}))},
		{"GPIO_V2_LINE_GET_VALUES_IOCTL", unix.GPIO_V2_LINE_GET_VALUES_IOCTL, 0xc010b40e, iowr(both, 0x0E, unsafe.Sizeof(unix.GPIOV2LineValues{}))},
		{"GPIO_V2_LINE_SET_VALUES_IOCTL", unix.GPIO_V2_LINE_SET_VALUES_IOCTL, 0xc010b40f, iowr(both, 0x0F, unsafe.Sizeof(unix.GPIOV2LineValues{}))},
	} {
		require.Equal(t, c.want, c.got, c.name)
		require.Equal(t, c.ioc, c.got, c.name)
	}
	for name, c := range map[string][2]uint{
		"I2C_RETRIES":                      {i2cRetries, 0x701},
		"I2C_TIMEOUT":                      {i2cTimeout, 0x702},
		"I2C_SLAVE":                        {i2cSlave, 0x703},
		"I2C_FUNCS":                        {i2cFuncs, 0x705},
		"I2C_RDWR":                         {i2cRdwr, 0x707},
		"I2C_M_RD":                         {flagRead, 1},
		"I2C_FUNC_I2C":                     {uint(FuncI2C), 1},
		"GPIO_V2_LINE_FLAG_USED":           {flagUsed, 0x1},
		"GPIO_V2_LINE_FLAG_ACTIVE_LOW":     {flagActiveLow, 0x2},
		"GPIO_V2_LINE_FLAG_INPUT":          {flagInput, 0x4},
		"GPIO_V2_LINE_FLAG_OUTPUT":         {flagOutput, 0x8},
		"GPIO_V2_LINE_FLAG_EDGE_RISING":    {flagRising, 0x10},
		"GPIO_V2_LINE_FLAG_EDGE_FALLING":   {flagFalling, 0x20},
		"GPIO_V2_LINE_FLAG_BIAS_PULL_UP":   {flagPullUp, 0x100},
		"GPIO_V2_LINE_FLAG_BIAS_PULL_DOWN": {flagPullDown, 0x200},
		"GPIO_V2_LINE_FLAG_BIAS_DISABLED":  {flagBiasDisabled, 0x400},
	} {
		require.Equal(t, c[1], c[0], name)
	}
}

func TestTextEndsAtTheFirstZero(t *testing.T) {
	require.Equal(t, "lid", text([]byte{'l', 'i', 'd', 0, 'x'}))
	require.Equal(t, "abcd", text([]byte("abcd")), "a field that is full has no zero")
	require.Empty(t, text(nil))
}

func TestAFileOfTheKernelsTreeIsReadWithinBounds(t *testing.T) {
	b := newBoard(t)
	b.sys(t, "long", string(make([]byte, 2*attributeMax)))
	raw, err := attribute(b.opts.Sys + "/long")
	require.NoError(t, err)
	require.Len(t, raw, attributeMax)
	_, err = attribute(b.opts.Sys + "/none")
	require.ErrorIs(t, err, unix.ENOENT)
	_, err = attribute(b.opts.Sys)
	require.ErrorIs(t, err, unix.EISDIR)
}

// TestTheRunningKernelIsAsked, which knows no such request of these devices.
func TestTheRunningKernelIsAsked(t *testing.T) {
	fd, err := openDevice("/dev/null")
	require.NoError(t, err)
	defer unix.Close(fd)
	_, err = running{}.count(fd, i2cRetries, 1)
	require.ErrorIs(t, err, unix.ENOTTY)
	require.ErrorIs(t, ask(running{}, fd, gpioChipInfo, new(unix.GPIOChipInfo)), unix.ENOTTY)
	require.ErrorIs(t, rdwr(running{}, fd, 0x50, []byte{1}, nil), unix.ENOTTY)
	n, err := running{}.poll([]unix.PollFd{{Fd: int32(fd), Events: unix.POLLIN}}, nil)
	require.NoError(t, err)
	require.Equal(t, 1, n, "it is always ready")
}
