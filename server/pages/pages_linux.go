package pages

import (
	"bytes"
	"os"
	"runtime"
	"unsafe"

	"golang.org/x/sys/unix"
)

// hugePage is the size of a large page, in bytes (2 MiB for 4 KiB pages on x86-64 and AArch64).
const hugePage = 2 << 20

// reserve makes so many bytes of the heap come in large pages, as they are used; nothing is
// taken before. It takes a collection, so it is for a time at which there is not much. Where all
// memory comes in large pages anyway, or none may, it does nothing (documentation of Linux,
// admin-guide/mm/transhuge: "madvise").
func reserve(size int) {
	if !asks() {
		return
	}
	advise(make([]byte, size+hugePage))
	runtime.GC() // what was advised is free, and the next that is taken
}

// asks says whether programs ask for large pages.
func asks() bool {
	mode, err := os.ReadFile("/sys/kernel/mm/transparent_hugepage/enabled")
	return err == nil && bytes.Contains(mode, []byte("[madvise]"))
}

// advise asks for large pages in what is aligned as they are. Nothing of it is used here.
func advise(room []byte) {
	skip := int(-uintptr(unsafe.Pointer(unsafe.SliceData(room))) & (hugePage - 1))
	_ = unix.Madvise(room[skip:skip+(len(room)-skip)&^(hugePage-1)], unix.MADV_HUGEPAGE)
}

// fresh makes what is allocated next come in large pages: it takes room that nothing touches,
// and so has the heap grow behind it. That room is free after the next collection.
func fresh() {
	if !asks() {
		return
	}
	room := make([]byte, 2*hugePage+1)
	from := (uintptr(unsafe.Pointer(unsafe.SliceData(room))) + uintptr(len(room))) &^ (hugePage - 1)
	_, _, _ = unix.Syscall(unix.SYS_MADVISE, from, 4*hugePage, unix.MADV_HUGEPAGE)
}
