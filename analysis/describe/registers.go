package describe

import (
	"fmt"
	"strings"

	"narrowgauge/isa"
)

// special are the registers that MRS, MSR, VMRS and VMSR name, by what they are. Those of
// the M profile are of DDI 0403E, B1.4.2 and B1.4.3, and DDI 0553, "Special registers";
// those of the others of DDI 0406C, B1.3 and B1.3.3; those of floating point of DDI 0406C,
// B6.1.
var special = map[string]string{
	"cpsr":        "the current program status register of the A and R profile: condition flags, Q, GE, the bits that mask interrupts (A, I, F), the state and the mode",
	"spsr":        "the saved program status register of the present mode: what CPSR was when the exception was taken. User and System mode have none",
	"apsr":        "the application program status register: the condition flags N, Z, C, V, the flag Q, and GE where there are parallel additions. On the A and R profile it is a part of CPSR",
	"ipsr":        "the interrupt program status register: the number of the exception that is handled, 0 in Thread mode. A write is ignored",
	"epsr":        "the execution program status register: the T bit and the state of IT blocks. MRS reads it as 0, and a write is ignored",
	"iapsr":       "IPSR and APSR together",
	"eapsr":       "EPSR and APSR together",
	"iepsr":       "IPSR and EPSR together",
	"xpsr":        "APSR, IPSR and EPSR together",
	"psr":         "APSR, IPSR and EPSR together; another name of XPSR",
	"msp":         "the main stack pointer: r13 in Handler mode, and in Thread mode unless CONTROL chooses PSP",
	"psp":         "the process stack pointer: r13 in Thread mode if CONTROL bit 1 is set",
	"msplim":      "the lowest address that the main stack pointer may have",
	"psplim":      "the lowest address that the process stack pointer may have",
	"primask":     "bit 0 set keeps off all exceptions whose priority can be set; CPSID i sets it, CPSIE i clears it",
	"basepri":     "keeps off exceptions whose priority has this value or a greater one; 0 keeps off none",
	"basepri_max": "BASEPRI, which MSR writes only if that keeps off more exceptions than before",
	"faultmask":   "bit 0 set keeps off all exceptions but NMI; CPSID f sets it, CPSIE f clears it",
	"control":     "bit 0 set: Thread mode is unprivileged; bit 1 set: it uses PSP; bit 2, with floating point: its registers are in use",
	"sp":          "the stack pointer in use",
	"fpsid":       "tells which floating-point unit there is",
	"fpscr":       "flags, rounding mode and other bits that control floating point; VMRS APSR_nzcv, FPSCR copies its flags",
	"fpexc":       "bit 30, EN, turns floating point on",
	"fpinst":      "the floating-point instruction that was not carried out, for whoever carries it out in software",
	"fpinst2":     "the floating-point instruction after the one in FPINST",
	"mvfr0":       "tells what floating point has: media and floating-point features 0",
	"mvfr1":       "tells what floating point has: media and floating-point features 1",
	"mvfr2":       "tells what floating point has: media and floating-point features 2",
	"elr_hyp":     "where the return from Hyp mode leads to",
}

// modes are the ends of the names of registers that a mode has for itself (DDI 0406C,
// B9.2.3, "Encoding and use of Banked register transfer instructions").
var modes = map[string]string{"usr": "User and System", "fiq": "FIQ", "irq": "IRQ", "svc": "Supervisor", "abt": "Abort", "und": "Undefined", "mon": "Monitor", "hyp": "Hyp"}

// parts are the ends of the names of status registers in MSR (DDI 0406C, B9.3.12; DDI
// 0403E, B5.2.3).
var parts = map[string]string{
	"nzcvq": "only the flags N, Z, C, V and Q, bits 31 to 27", "nzcv": "only the flags N, Z, C and V, bits 31 to 28", "g": "only GE, bits 19 to 16",
	"nzcvqg": "the flags N, Z, C, V, Q and GE", "all": "the bits that control the core and those with the flags, parts f and c",
}

// Special says whether a word names a special register.
func Special(word string) bool { return specialText(strings.ToLower(word)) != "" }

// registerText explains a register; empty for what is none.
func registerText(name string) string {
	if reg, ok := isa.RegByName(name); ok {
		return "# " + name + "\n\n" + regText(name, reg, nil) + "\n"
	}
	if _, _, ok := isa.VectorReg(name); ok && !strings.ContainsAny(name, ".[") {
		return "# " + name + "\n\n" + hoverVector(name, name) + "\n"
	}
	text, of := special[name], ""
	if base, end, ok := strings.Cut(name, "_"); ok && text == "" {
		switch {
		case end == "ns" && special[base] != "":
			text, of = special[base], " Of the Non-secure state, as seen from the Secure one."
		case modes[end] != "" && base == "spsr":
			text = "the saved program status register of " + modes[end] + " mode"
		case modes[end] != "" && base != "elr":
			if _, ok := isa.RegByName(base); !ok {
				return ""
			}
			text = base + " of " + modes[end] + " mode, as MRS and MSR of another mode name it"
		case parts[end] != "" && special[base] != "" && strings.HasSuffix(base, "psr"):
			text, of = special[base], " Here "+parts[end]+"."
		case strings.HasSuffix(base, "psr") && end != "" && strings.Trim(end, "cxsf") == "":
			text, of = special[base], " Here "+bytesOf(end)+"."
		}
	}
	if text == "" {
		return ""
	}
	return fmt.Sprintf("# %s\n\n**%s** — %s.%s\n", name, strings.ToUpper(name), text, of)
}

// bytesOf names the bytes of a status register that letters stand for.
func bytesOf(letters string) string {
	var list []string
	for _, c := range "fsxc" {
		if strings.ContainsRune(letters, c) {
			list = append(list, map[rune]string{'f': "bits 31 to 24 (f)", 's': "bits 23 to 16 (s)", 'x': "bits 15 to 8 (x)", 'c': "bits 7 to 0 (c)"}[c])
		}
	}
	return "only " + strings.Join(list, ", ")
}

// registerNames are names of registers, for those that are close to something.
func registerNames() (out []string) {
	for n := range special {
		out = append(out, n)
	}
	return append(out, "r0", "r1", "r2", "r3", "r4", "r5", "r6", "r7", "r8", "r9", "r10", "r11", "r12", "r13", "r14", "r15", "lr", "pc", "ip", "fp")
}
