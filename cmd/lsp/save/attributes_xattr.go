//go:build linux || darwin

package save

import (
	"errors"
	"os"
	"strings"

	"golang.org/x/sys/unix"
)

// attributes reads the extended attributes of an open file; it has none where the
// file system knows none.
func attributes(f *os.File) (map[string][]byte, error) {
	fd := int(f.Fd())
	names, err := grown(func(to []byte) (int, error) { return unix.Flistxattr(fd, to) })
	if err != nil {
		if errors.Is(err, errors.ErrUnsupported) || errors.Is(err, unix.EPERM) {
			return nil, nil
		}
		return nil, os.NewSyscallError("flistxattr", err)
	}
	var all map[string][]byte
	for name := range strings.SplitSeq(strings.TrimRight(string(names), "\x00"), "\x00") {
		if name == "" {
			continue
		}
		value, err := grown(func(to []byte) (int, error) { return unix.Fgetxattr(fd, name, to) })
		if err != nil {
			return nil, os.NewSyscallError("fgetxattr", err)
		}
		if all == nil {
			all = map[string][]byte{}
		}
		all[name] = value
	}
	return all, nil
}

// grown calls a function that says how much room it needs when it gets none.
func grown(read func(to []byte) (int, error)) ([]byte, error) {
	for {
		n, err := read(nil)
		if err != nil || n == 0 {
			return nil, err
		}
		to := make([]byte, n)
		n, err = read(to)
		if errors.Is(err, unix.ERANGE) {
			continue // it has grown meanwhile
		}
		return to[:max(n, 0)], err
	}
}

func setAttribute(f *os.File, name string, value []byte) error {
	return os.NewSyscallError("fsetxattr", unix.Fsetxattr(int(f.Fd()), name, value, 0))
}

func removeAttribute(f *os.File, name string) error {
	return os.NewSyscallError("fremovexattr", unix.Fremovexattr(int(f.Fd()), name))
}
