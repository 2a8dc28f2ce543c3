// Package isa knows instructions, and nothing of files.
//
// A [Row] describes one encoding: its layout as the architecture manual draws
// it, its spellings with operand ranges, the architecture features it needs,
// the registers and flags it touches, and where it is unpredictable: the rules in
// caution.go. Rows are
// the only description of an instruction; t16.go holds those of T16, t32.go,
// t32media.go, t32mem.go and t32system.go those of T32, a32rows.go, a32media.go
// and a32system.go those of A32. compile.go turns the notation of the rows into
// masks, fields and forms, once, when the table is first used. What one operand of
// a form may be has a type for each kind, in spec.go and the files spec….go beside
// it, which reads the notation, checks, writes and describes.
//
// Only from the rows come:
//
//   - [Find]: a name's [Mnemonic], with its forms in order of preference;
//   - [Mnemonic.Match]: the first form that takes a statement, and its field values;
//   - [Mnemonic.Refuse]: the forms that came near, the operand at fault and by how much;
//   - [Match.Encode], [Decode] and [DecodeA32]: machine code, both ways;
//   - [Match.Effects]: registers, flags, memory, flow;
//   - [Evaluate]: what it does with values of any [Domain]; package exec carries it out
//     on words;
//   - [ArithmeticOf]: what an operation does with plain registers, for a line that has no
//     encoding;
//   - [Match.Other]: the same in the other instruction set, and its size;
//   - [Match.Cycles]: how long it takes on the families with a published table,
//     which are in cyclesdata.go;
//   - [Form.String]: a spelling with its limits, for messages and help.
//
// A statement reaches this package as a mnemonic and a list of [Operand]
// values whose symbols are resolved as far as they are known. A value that is
// not known yet never decides: the match is marked as deferred.
//
// What an instruction does is one text in its row, Row.Does. does.go has its notation
// and compiles it, evaluate.go carries it out in a domain, derive.go takes effects from
// it, meaning.go the words of hovers.
//
// # Where things are
//
// The files are of five groups. Those of the first are data; each group needs those in
// front of it, and the rows are compiled by the second. They are one package, as a row
// names its cautions and properties, and these read the fields of compiled rows.
//
//   - Rows: t16, t32, t32media, t32mem, t32system; a32rows, a32media, a32system; media,
//     which has what both say of multiplications and parallel arithmetic; vfp (floating
//     point); simd (data processing of vectors), simdimm (constants), simdmem (elements in
//     memory) and simdv8 (what came with ARMv8), once for both instruction sets.
//   - What rows are made of: row, layout, caution, effects, the types of operands in
//     spec and spec…, and their compilation in compile and table. a32core has what A32
//     needs beyond Thumb: rotated constants, shifts, addressing modes, and names
//     that are a stem and a condition in the order of a syntax. t32core has T32's
//     constants, and names with the condition of an IT block, whose slot comes with the
//     query; vfpcore has registers, elements, constants and types of floating point
//     and vectors.
//   - Meaning: does, evaluate, derive, meaning.
//   - Questions: names, operand, match, refuse, encode, itblock, other, relax, evident,
//     meant, operation, cycles with its figures in cyclesdata.
//   - Targets: arch (features), targets (what -march, -mcpu and -mfpu take), extensions,
//     reg (registers and conditions).
//
// # How it is shown to be right
//
// The tests hold the table against reference tools (package reftest), each
// difference in a list with the manual's word on it: TestAccept (what is
// accepted, refused, and the code: the assembler), TestDecode (all halfwords:
// three disassemblers), TestEffects (registers and flags: an emulator; TestEffectsTwo for ADRL),
// TestTargets (names and features), TestUnicorn of package exec (what rows do); TestAcceptA, TestDecodeA and TestEffectsA do the same
// for A32; TestAcceptT and TestDecodeT for T32; TestAcceptV and TestDecodeV for
// floating point and vectors. TestOther assembles what [Match.Other] gives.
// TestCautions holds each [Rule] of each row against a line that breaks it and
// one that does not, and fails on a rule or a form without such a pair;
// TestCycles holds the figures against the published tables. TestRoundTrip,
// TestDisjoint, TestPractice and TestRefuse need no tools. Each logs how much it
// compared, and how long that took; -short makes it a small sample, and the
// variables of package reftest (NARROWGAUGE_THOROUGH=1) all there is.
//
// Everything here is immutable after the first use and safe for concurrent use.
package isa
