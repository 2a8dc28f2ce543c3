//go:build unix

package save

import "syscall"

// noWait keeps the opening of a pipe from waiting for its other end.
const noWait = syscall.O_NONBLOCK

func (i *Info) owner() {
	if s, ok := i.Sys().(*syscall.Stat_t); ok {
		i.Links, i.User, i.Group = uint64(s.Nlink), int(s.Uid), int(s.Gid)
	}
}
