package early

import (
	"strings"
	"syscall"
)

// populateRead is MADV_POPULATE_READ, which is there since Linux 5.14 (documentation of Linux,
// madvise(2)). A system that does not know it refuses it, which changes nothing.
const populateRead = 22

func init() { program() }

// read gives how many bytes of a file are read, 0 where it cannot be.
func read(name string, into []byte) int {
	fd, err := syscall.Open(name, syscall.O_RDONLY|syscall.O_CLOEXEC, 0)
	if err != nil {
		return 0
	}
	n, _ := syscall.Read(fd, into)
	syscall.Close(fd)
	return max(n, 0)
}

// program maps all of the program's file that is not written to. The first lines of the list of
// mappings are the program's (documentation of Linux, proc_pid_maps(5)):
//
//	00400000-00bc4000 r-xp 00000000 fe:00 9977972    /usr/bin/narrowgauge
func program() {
	var buf [2 << 10]byte
	list := string(buf[:read("/proc/self/maps", buf[:])])
	file := ""
	for {
		line, rest, whole := strings.Cut(list, "\n")
		if !whole {
			return
		}
		list = rest
		from, line, _ := strings.Cut(line, "-")
		to, line, _ := strings.Cut(line, " ")
		may, line, _ := strings.Cut(line, " ")
		_, line, _ = strings.Cut(line, " ") // the offset in the file
		if line, _, _ = strings.Cut(line, " /"); file == "" {
			file = line // its device and number
		}
		if line != file || len(may) < 2 || may[0] != 'r' {
			return
		}
		if may[1] == 'w' {
			return // what is not read comes after what is
		}
		_, _, _ = syscall.Syscall(syscall.SYS_MADVISE, address(from), address(to)-address(from), populateRead)
	}
}

// address reads a hexadecimal number.
func address(text string) (n uintptr) {
	for i := 0; i < len(text); i++ {
		c := text[i] | 0x20 // of letters the small one, and the same of digits
		if c >= 'a' {
			c -= 'a' - '9' - 1
		}
		n = n<<4 | uintptr(c-'0')
	}
	return n
}
