package isa

import (
	"fmt"
	"strings"
)

// mediaDoes says what the instruction of that name does, for those of signal
// processing, parallel arithmetic, fields of bits, extension, saturation, division and
// checksums, whose fields have the same names in A32 and T32 (DDI 0406C, A8; CRC32:
// DDI 0487, F5). Empty for another name.
func mediaDoes(name string) string {
	if d, ok := mediaPlain[name]; ok {
		return d
	}
	half := func(reg string, top bool) string {
		if top {
			return "asr(" + reg + ", 16)"
		}
		return "sxh(" + reg + ")"
	}
	last := func(n int) bool { return name[len(name)-n] == 'T' }
	const acc64 = "; lo := RdLo + p; RdHi = RdHi + %s + carry(RdLo, p, 0); RdLo = lo"
	switch {
	case len(name) == 7 && name[:5] == "SMLAL" && strings.Trim(name[5:], "BT") == "": // SMLALBB
		return "p := " + half("Rn", last(2)) + "*" + half("Rm", last(1)) + fmt.Sprintf(acc64, "asr(p, 31)")
	case strings.HasPrefix(name, "SMLAW"), strings.HasPrefix(name, "SMULW"):
		p := "smulhi(Rn, lsl(Rm, 16))"
		if last(1) {
			p = "smulhi(Rn, Rm & 0xffff0000)"
		}
		if name[2] == 'U' {
			return "Rd = " + p
		}
		return "p := " + p + "; Rd = p + Ra; Q |= overflow(p, Ra, 0)"
	case len(name) == 6 && (name[:4] == "SMLA" || name[:4] == "SMUL") && strings.Trim(name[4:], "BT") == "":
		p := half("Rn", last(2)) + "*" + half("Rm", last(1))
		if name[2] == 'U' {
			return "Rd = " + p
		}
		return "p := " + p + "; Rd = p + Ra; Q |= overflow(p, Ra, 0)"
	}
	if d := dualDoes(name); d != "" {
		return d
	}
	if d := parallelDoes(name); d != "" {
		return d
	}
	return extendDoes(name)
}

// mediaPlain are those whose names tell of no family.
var mediaPlain = map[string]string{
	"QADD":  "Rd = qadd(Rm, Rn); Q |= overflow(Rm, Rn, 0)",
	"QSUB":  "Rd = qsub(Rm, Rn); Q |= overflow(Rm, ~Rn, 1)",
	"QDADD": "two := qadd(Rn, Rn); Rd = qadd(Rm, two); Q |= overflow(Rn, Rn, 0) | overflow(Rm, two, 0)",
	"QDSUB": "two := qadd(Rn, Rn); Rd = qsub(Rm, two); Q |= overflow(Rn, Rn, 0) | overflow(Rm, ~two, 1)",

	"SEL":   "m := (GE & 1)*0xff | (lsr(GE, 1) & 1)*0xff00 | (lsr(GE, 2) & 1)*0xff0000 | lsr(GE, 3)*0xff000000; Rd = Rn & m | Rm & ~m",
	"PKHBT": "Rd = uxh(Rn) | lsl(Rm, imm5) & 0xffff0000",
	"PKHTB": "Rd = Rn & 0xffff0000 | uxh(asr(Rm, to32(imm5)))",

	"REV": "Rd = rev(Rm)", "REV16": "Rd = rev16(Rm)", "REVSH": "Rd = sxh(rev16(Rm))", "RBIT": "Rd = rbit(Rm)", "CLZ": "Rd = clz(Rm)",

	"SSAT":   "x := shift(Rn, sh*2, imm5); Rd = ssat(x, sat + 1); Q |= ssat(x, sat + 1) ^ x",
	"USAT":   "x := shift(Rn, sh*2, imm5); Rd = usat(x, sat); Q |= usat(x, sat) ^ x",
	"SSAT16": "x := sxh(Rn); y := asr(Rn, 16); a := ssat(x, sat + 1); b := ssat(y, sat + 1); Rd = uxh(a) | lsl(b, 16); Q |= (a ^ x) | (b ^ y)",
	"USAT16": "x := sxh(Rn); y := asr(Rn, 16); a := usat(x, sat); b := usat(y, sat); Rd = uxh(a) | lsl(b, 16); Q |= (a ^ x) | (b ^ y)",

	"BFC":  "m := lsl(lsl(2, msb - lsb) - 1, lsb); Rd = Rd & ~m",
	"BFI":  "m := lsl(lsl(2, msb - lsb) - 1, lsb); Rd = Rd & ~m | lsl(Rn, lsb) & m",
	"SBFX": "Rd = asr(lsl(Rn, 31 - widthm1 - lsb), 31 - widthm1)",
	"UBFX": "Rd = lsr(lsl(Rn, 31 - widthm1 - lsb), 31 - widthm1)",

	"MUL": "Rd = Rn * Rm", "MLA": "Rd = Rn * Rm + Ra", "MLS": "Rd = Ra - Rn * Rm",
	"SMULL": "RdLo = Rn * Rm; RdHi = smulhi(Rn, Rm)",
	"UMULL": "RdLo = Rn * Rm; RdHi = mulhi(Rn, Rm)",
	"SMLAL": "p := Rn * Rm; RdLo = RdLo + p; RdHi = RdHi + smulhi(Rn, Rm) + carry(RdLo, p, 0)",
	"UMLAL": "p := Rn * Rm; RdLo = RdLo + p; RdHi = RdHi + mulhi(Rn, Rm) + carry(RdLo, p, 0)",
	"UMAAL": "p := Rn * Rm; s := p + RdLo; RdLo = s + RdHi; RdHi = mulhi(Rn, Rm) + carry(p, RdLo, 0) + carry(s, RdHi, 0)",

	"SMMUL":  "Rd = smulhi(Rn, Rm)",
	"SMMULR": "Rd = smulhi(Rn, Rm) + carry(Rn * Rm, 0x80000000, 0)",
	"SMMLA":  "Rd = Ra + smulhi(Rn, Rm)",
	"SMMLAR": "Rd = Ra + smulhi(Rn, Rm) + carry(Rn * Rm, 0x80000000, 0)",
	"SMMLS":  "p := Rn * Rm; Rd = Ra - smulhi(Rn, Rm) - (p != 0)",
	"SMMLSR": "p := Rn * Rm; Rd = Ra - smulhi(Rn, Rm) - (p != 0) + carry(0 - p, 0x80000000, 0)",

	"SDIV": "Rd = sdiv(Rn, Rm)", "UDIV": "Rd = udiv(Rn, Rm)",
	"CRC32B": "Rd = crc32(Rn, Rm, 8)", "CRC32H": "Rd = crc32(Rn, Rm, 16)", "CRC32W": "Rd = crc32(Rn, Rm, 32)",
	"CRC32CB": "Rd = crc32c(Rn, Rm, 8)", "CRC32CH": "Rd = crc32c(Rn, Rm, 16)", "CRC32CW": "Rd = crc32c(Rn, Rm, 32)",

	"USAD8": absDifferences(""), "USADA8": absDifferences("Ra + "),
}

// absDifferences are the differences of four pairs of bytes, without signs, added up.
func absDifferences(to string) string {
	names, sum := "", to
	for i := range 4 {
		names += fmt.Sprintf("d%d := uxb(lsr(Rn, %d)) - uxb(lsr(Rm, %d)); ", i, 8*i, 8*i)
		if i > 0 {
			sum += " + "
		}
		sum += fmt.Sprintf("((d%d ^ asr(d%d, 31)) - asr(d%d, 31))", i, i, i)
	}
	return names + "Rd = " + sum
}

// dualDoes is about two products of halfwords: SMUAD to SMLSLDX.
func dualDoes(name string) string {
	base, x := strings.CutSuffix(name, "X")
	var op, acc string
	switch base {
	case "SMUAD", "SMUSD":
		op = base[3:4]
	case "SMLAD", "SMLSD":
		op, acc = base[3:4], "32"
	case "SMLALD", "SMLSLD":
		op, acc = base[3:4], "64"
	default:
		return ""
	}
	m := "m := Rm; "
	if x {
		m = "m := ror(Rm, 16); "
	}
	does := m + "a := sxh(Rn)*sxh(m); b := asr(Rn, 16)*asr(m, 16); "
	// The sum of two products may need 33 bits, the difference does not: h are those
	// above the lower 32.
	if op == "A" {
		does += "p := a + b; h := asr(a, 31) + asr(b, 31) + carry(a, b, 0); "
	} else {
		does += "p := a - b; h := asr(p, 31); "
	}
	switch acc {
	case "":
		if does += "Rd = p"; op == "A" {
			does += "; Q |= overflow(a, b, 0)"
		}
	case "32":
		does += "s := p + Ra; Rd = s; Q |= (h + asr(Ra, 31) + carry(p, Ra, 0)) ^ asr(s, 31)"
	default:
		does += "RdLo = RdLo + p; RdHi = RdHi + h + carry(RdLo, p, 0)"
	}
	return does
}

// parallelDoes is about lanes: SADD8 to UHSAX.
func parallelDoes(name string) string {
	for _, p := range []string{"UQ", "UH", "SH", "S", "Q", "U"} {
		rest, ok := strings.CutPrefix(name, p)
		if !ok {
			continue
		}
		type lane struct {
			minus bool
			x, y  int // which lane of Rn, of Rm
		}
		bits := 16
		var lanes []lane
		switch rest {
		case "ADD16", "SUB16", "ADD8", "SUB8":
			if rest[3:] == "8" {
				bits = 8
			}
			for i := range 32 / bits {
				lanes = append(lanes, lane{rest[:3] == "SUB", i, i})
			}
		case "ASX":
			lanes = []lane{{true, 0, 1}, {false, 1, 0}}
		case "SAX":
			lanes = []lane{{false, 0, 1}, {true, 1, 0}}
		default:
			continue
		}
		return lanesDoes(p, bits, func(yield func(int, bool, int, int)) {
			for i, l := range lanes {
				yield(i, l.minus, l.x, l.y)
			}
		})
	}
	return ""
}

// lanesDoes adds and subtracts lanes of so many bits: prefix says with which sign, and
// whether the results are limited or halved; without either they set GE.
func lanesDoes(prefix string, bits int, each func(yield func(i int, minus bool, x, y int))) string {
	unsigned := prefix[0] == 'U'
	extend := map[bool]map[int]string{false: {8: "sxb", 16: "sxh"}, true: {8: "uxb", 16: "uxh"}}
	take := func(reg string, lane int) string {
		return fmt.Sprintf("%s(lsr(%s, %d))", extend[unsigned][bits], reg, bits*lane)
	}
	names, rd, ge := "", "", ""
	each(func(i int, minus bool, x, y int) {
		op := " + "
		if minus {
			op = " - "
		}
		v := take("Rn", x) + op + take("Rm", y)
		r := fmt.Sprintf("r%d", i)
		switch prefix {
		case "Q":
			v = fmt.Sprintf("ssat(%s, %d)", v, bits)
		case "UQ":
			v = fmt.Sprintf("usat(%s, %d)", v, bits)
		case "SH", "UH":
			v = "asr(" + v + ", 1)"
		default:
			g := "!lsr(" + r + ", 31)" // not below 0
			if unsigned && !minus {
				g = fmt.Sprintf("lsr(%s, %d)", r, bits) // the carry
			}
			if i > 0 {
				ge += " | "
			}
			ge += fmt.Sprintf("%s*%d", g, map[int]int{8: 1, 16: 3}[bits]<<(i*bits/8))
		}
		names += r + " := " + v + "; "
		if i > 0 {
			rd += " | "
		}
		rd += fmt.Sprintf("lsl(%s(%s), %d)", extend[true][bits], r, bits*i)
	})
	does := names + "Rd = " + rd
	if ge != "" {
		does += "; GE = " + ge
	}
	return does
}

// extendDoes is about SXTB to UXTAB16.
func extendDoes(name string) string {
	rest, ok := strings.CutPrefix(name[1:], "XT")
	if !ok {
		return ""
	}
	size, add := strings.CutPrefix(rest, "A")
	sign := strings.ToLower(name[:1])
	x := "x := ror(Rm, rot*8); "
	switch size {
	case "B", "H":
		v := sign + "x" + strings.ToLower(size) + "(x)"
		if add {
			v = "Rn + " + v
		}
		return x + "Rd = " + v
	case "B16":
		low, high := sign+"xb(x)", sign+"xb(lsr(x, 16))"
		if add {
			low, high = "Rn + "+low, "lsr(Rn, 16) + "+high
		}
		return x + "Rd = uxh(" + low + ") | lsl(" + high + ", 16)"
	}
	return ""
}
