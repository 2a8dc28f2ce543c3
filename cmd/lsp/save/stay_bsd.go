//go:build darwin || freebsd || netbsd

package save

import (
	"os"
	"syscall"
)

// stay says whether an open file or folder is immutable, or may only be added to, as its owner
// or the superuser says (chflags(2): UF_IMMUTABLE, UF_APPEND, SF_IMMUTABLE and SF_APPEND).
func stay(f *os.File) (fixed, grows bool) {
	info, err := f.Stat()
	if err != nil {
		return false, false
	}
	s, ok := info.Sys().(*syscall.Stat_t)
	return ok && s.Flags&0x20002 != 0, ok && s.Flags&0x40004 != 0
}
