package analysis

import (
	"strings"
	"sync"
)

// foreignFolders are what folders for sources of another architecture are called, as the
// machines of GNU's configuration names are (config.sub, from memory). Those that are words of
// their own, such as alpha, rx, score and sh, are left out.
const foreignFolders = "aarch64 arm64 amd64 avr avr32 bfin blackfin c6x cr16 cris csky d10v d30v epiphany fr30 ft32 h8300 h8500 " +
	"hexagon hppa i386 i486 i586 i686 ia64 iq2000 lm32 loongarch loongarch64 m32c m32r m68hc11 m68k m88k mcore microblaze " +
	"mips mips32 mips64 mipsn32 mipsel mmix mn10200 mn10300 moxie msp430 nds32 nios2 ns32k openrisc or1k parisc powerpc powerpc64 ppc ppc64 " +
	"riscv riscv32 riscv64 rl78 rs6000 s390 s390x sh2 sh3 sh4 sh64 sparc sparc32 sparc64 sparcv9 tilegx tilepro unicore32 v850 w65 " +
	"x32 x86 x86_64 x86-64 xc16x xstormy16 xtensa z80 z8k"

var isForeignFolder = sync.OnceValue(func() map[string]bool {
	out := map[string]bool{}
	for _, name := range strings.Fields(foreignFolders) {
		out[name] = true
	}
	return out
})

// maxForeignFolders is how many folders above a source are looked at.
const maxForeignFolders = 2

// foreignFolder is the nearest folder of a path that is called like another architecture, as it
// is written; empty: there is none, or one called like ARM is nearer.
func foreignFolder(path string) string {
	folders := strings.FieldsFunc(path, func(c rune) bool { return c == '/' || c == '\\' })
	for i := len(folders) - 2; i >= 0 && i >= len(folders)-1-maxForeignFolders; i-- {
		name := strings.ToLower(folders[i])
		switch {
		case isForeignFolder()[name]:
			return folders[i]
		case strings.HasPrefix(name, "arm"), strings.HasPrefix(name, "thumb"), strings.HasPrefix(name, "cortex"):
			return ""
		}
	}
	return ""
}
