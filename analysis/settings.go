package analysis

import (
	"narrowgauge/isa"
)

// Settings is what the assembler's command line would say. The zero value
// of every field means its default.
type Settings struct {
	// Arch is an architecture as the assembler's -march takes it, with
	// extensions ("armv4t", "armv7-a+fp"). Default: armv4t.
	Arch string `json:"arch"`
	// CPU is a core as -mcpu takes it ("arm7tdmi", "cortex-m0"). It wins over
	// Arch.
	CPU string `json:"cpu"`
	// FPU is a floating-point unit as -mfpu takes it.
	FPU string `json:"fpu"`
	// StartMode is the instruction set before the first mode directive: arm
	// or thumb. Default: arm, or thumb where the architecture has nothing else.
	StartMode string `json:"startMode"`
	// Syntax before the first .syntax directive: unified or divided.
	// Default: divided.
	Syntax string `json:"syntax"`
	// Include lists the folders in which .include looks, after the folder of
	// the including file.
	Include []string `json:"include"`
}

// SettingError says which setting has a value that nothing knows.
type SettingError struct {
	Setting string   // arch, cpu, fpu, startMode, syntax
	Value   string   // as given
	Near    []string // known values that are close to it, nearest first
}

var _ = isa.Version
