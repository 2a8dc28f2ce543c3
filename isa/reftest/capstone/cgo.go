//go:build reftools

package capstone

// #cgo LDFLAGS: -lcapstone
// #include <stdlib.h>
// #include <capstone/capstone.h>
import "C"

import (
	"fmt"
	"unsafe"

	"narrowgauge/isa/reftest"
)

// Built says whether the library is linked.
const Built = true

func disassemble(mode Mode, code []byte) ([]reftest.Inst, error) {
	if len(code) == 0 {
		return nil, nil
	}
	bits, least := C.cs_mode(C.CS_MODE_ARM), 4
	if mode.Thumb {
		bits, least = C.CS_MODE_THUMB, 2
	}
	if mode.MClass {
		bits |= C.CS_MODE_MCLASS
	}
	if mode.V8 {
		bits |= C.CS_MODE_V8
	}
	var handle C.csh
	if e := C.cs_open(C.CS_ARCH_ARM, bits, &handle); e != C.CS_ERR_OK {
		return nil, fmt.Errorf("cs_open: error %d", int(e))
	}
	defer C.cs_close(&handle)
	buf := C.CBytes(code)
	defer C.free(buf)

	var insts []reftest.Inst
	texts := reftest.Texts{}
	for at := 0; at < len(code); {
		// As many as there are up to the next one that Capstone refuses.
		var list *C.cs_insn
		n := C.cs_disasm(handle, (*C.uint8_t)(unsafe.Add(buf, at)), C.size_t(len(code)-at), C.uint64_t(at), 0, &list)
		for _, in := range unsafe.Slice(list, int(n)) {
			text := C.GoString(&in.mnemonic[0]) + " " + C.GoString(&in.op_str[0])
			got := texts.Inst(int(in.address), int(in.size), text)
			insts = append(insts, got)
			at = got.Offset + got.Size
		}
		if n > 0 {
			C.cs_free(list, n)
		}
		if at < len(code) {
			size := min(least, len(code)-at)
			insts = append(insts, texts.Inst(at, size, ""))
			at += size
		}
	}
	return insts, nil
}
