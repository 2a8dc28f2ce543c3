package save

import (
	"os"

	"golang.org/x/sys/unix"
)

// keptFlags are the flags of a file (as chattr sets them) that go on to the one that takes its
// place: what is written through, not dumped, without times of access, compressed, not copied
// on write. A file that must not be changed, or only grow, is not replaced at all.
//
// The numbers are those of the kernel's header linux/fs.h: SECRM, UNRM, COMPR, SYNC, NODUMP,
// NOATIME, NOCOMP, JOURNAL_DATA, NOTAIL and NOCOW, in this order.
const keptFlags = 0x1 | 0x2 | 0x4 | 0x8 | 0x40 | 0x80 | 0x400 | 0x4000 | 0x8000 | 0x800000

// flags are those of an open file that are kept; none where the file system knows none.
func flags(f *os.File) int {
	n, err := unix.IoctlGetInt(int(f.Fd()), unix.FS_IOC_GETFLAGS)
	if err != nil {
		return 0
	}
	return n & keptFlags
}

// stay says whether an open file or folder is immutable, or may only be added to (statx(2),
// "File attributes").
func stay(f *os.File) (fixed, grows bool) {
	var s unix.Statx_t
	if unix.Statx(int(f.Fd()), "", unix.AT_EMPTY_PATH, 0, &s) != nil {
		return false, false
	}
	has := s.Attributes & s.Attributes_mask
	return has&unix.STATX_ATTR_IMMUTABLE != 0, has&unix.STATX_ATTR_APPEND != 0
}

// setFlags gives an open file others of the flags that are kept.
func setFlags(f *os.File, want int) error {
	n, err := unix.IoctlGetInt(int(f.Fd()), unix.FS_IOC_GETFLAGS)
	if err != nil {
		return os.NewSyscallError("ioctl", err)
	}
	return os.NewSyscallError("ioctl", unix.IoctlSetPointerInt(int(f.Fd()), unix.FS_IOC_SETFLAGS, n&^keptFlags|want))
}
