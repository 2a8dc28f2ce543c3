//go:build !reftools

package capstone

import (
	"errors"

	"narrowgauge/isa/reftest"
)

// Built says whether the library is linked.
const Built = false

// disassemble is never reached: Disassemble asks Built first.
func disassemble(Mode, []byte) ([]reftest.Inst, error) {
	return nil, errors.New("not built: needs the build tag reftools")
}
