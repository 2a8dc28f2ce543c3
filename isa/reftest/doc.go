// Package reftest lets the tests of isa and analysis ask reference tools:
// does this statement assemble, to which bytes, what does this code say, what
// does it do when it runs. Only _test.go files import it; nothing here is part
// of the language server, and no text of a tool ever leaves this package.
//
// # Assembling
//
// [Assemble] gives a verdict on each of many statements, independent of each
// other: every statement is by itself in a section at address 0, and thousands
// of sections go through the assembler together. Statements that it refuses
// are taken out and the rest is tried again, until nothing is refused: some
// complaints come only once earlier ones are gone. 100,000 statements take a
// few seconds. [AssembleFile] assembles one whole program and hands back its
// sections, symbols and relocations.
//
//	reftest.Require(t, "arm-none-eabi-as")
//	opt := reftest.Options{Arch: "armv4t", Unified: true, Thumb: true}
//	for i, v := range reftest.Assemble(t, opt, lines) {
//		ours, err := encode(lines[i])
//		if v.OK != (err == nil) || v.OK && !bytes.Equal(ours, v.Bytes) {
//			t.Errorf("%s: ours % x %v, reference % x", lines[i], ours, err, v.Bytes)
//		}
//	}
//
// # Disassembling
//
// [Objdump], [LLVM] and the capstone package decode a byte stream into [Inst]
// values whose Text is normalised (see [Normalise]), so that one tool's answer
// can be compared with another's. [Each16] decodes single halfwords:
//
//	words := make([]uint16, 1<<16)
//	for i := range words {
//		words[i] = uint16(i)
//	}
//	insts := reftest.Each16(t, words, func(code []byte) []reftest.Inst {
//		return reftest.LLVM(t, "armv6-m", true, code)
//	})
//
// How far each keeps to an architecture, as found with the versions named here
// and held by TestRestriction, here and in package capstone:
//
//   - arm-none-eabi-objdump 2.40: in T16 code -m restricts nothing; every
//     name decodes as the newest T32 architecture. In A32 code it restricts
//     (armv4t, armv5te, armv6, armv7 differ).
//   - LLVM 19: the triple restricts both T16 and A32 code, with the exceptions
//     that the thumbv4t decoder knows SETEND, CPS and BKPT, and that in T16
//     code a halfword from 0xe800 up takes the next one with it on every
//     architecture, decoded or not. In A32 code armv4t lacks MUL, which
//     LLVM has from ARMv6 on. 0xdef9 and 0xdefe have names of LLVM's own
//     instead of UDF.
//   - Capstone 4.0.2: no mode for an architecture version. Thumb code decodes
//     as ARMv7, with the M profile mode without SETEND.
//
// Different names for one encoding stay different where they are more than
// spelling: "negs r0, r1" and "rsbs r0, r1, #0", "muls r0, r1" and
// "muls r0, r1, r0", "add r0, sp" and "add r0, sp, r0".
//
// # Running
//
// The unicorn package runs a snippet and hands back registers, flags and
// memory.
//
// # When a tool is missing
//
// A test that needs a missing tool is skipped, unless the environment has
// CI=true: then it fails ([Require], [Need]). The packages capstone and
// unicorn link C libraries (Debian: libcapstone-dev, libunicorn-dev, gcc) and
// are built with the tag reftools only:
//
//	go test -tags reftools ./isa/...
//
// Without the tag they count as missing tools.
package reftest
