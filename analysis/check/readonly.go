package check

import (
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/values"
	"narrowgauge/analysis/wording"
)

// storesReadOnly finds stores into a section that is not for writing. Those for code may be in
// RAM all the same, by the linker's script, and change themselves: that is a hint.
func storesReadOnly(p *job, l *flow.Line) {
	for i := range l.Touches {
		a := &l.Touches[i]
		if !a.Store || a.Addr.Base.Kind != values.Section || a.Addr.Assumed {
			continue
		}
		s := &p.Sections[p.Sections[a.Addr.Base.ID].Main]
		if off := int64(int32(a.Addr.Val)); !s.Exec && !isReadOnly(s.Name) || strings.Contains(s.Declaration.Flags, "w") || off < 0 || off >= p.Sections[a.Addr.Base.ID].Size {
			continue
		}
		d := finding.Diagnostic{Code: finding.CodeReadOnly, Message: wording.StoresReadOnly(l.Item.Stmt.Name, p.known.PlaceName(a.Addr.Base, int32(a.Addr.Val)), s.Name)}
		if s.Exec {
			d.Severity = finding.Hint
		}
		p.Emit(p.StmtLoc(l.Item), d)
		return
	}
}

// isReadOnly says whether a section is one that linkers' scripts put beside the code (ELF for
// the Arm Architecture and the generic ABI: .rodata, and .rodata1, are not for writing).
func isReadOnly(name string) bool {
	return name == ".rodata" || name == ".rodata1" || strings.HasPrefix(name, ".rodata.")
}
