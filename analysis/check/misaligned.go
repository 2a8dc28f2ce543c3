package check

import (
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// misaligned finds accesses at an address that is known not to be a multiple of what it has
// to be. What the cores do then: DDI 0419, A3.2.1 (ARMv6-M faults on each); DDI 0403, A3.2.1
// (ARMv7-M faults on LDM, LDRD, LDREX and their like); DDI 0406C, A3.2.1 (ARMv6 and ARMv7 the
// same); ARM7TDMI data sheet, 4.9.3 and 4.11.3 (LDR rotates, STR and LDM do not look at the
// low bits), 4.10.4 (halfwords are unpredictable).
func misaligned(p *job, l *flow.Line) {
	for _, a := range l.Touches {
		unit := uint32(a.Size)
		if a.How == isa.Multiple {
			unit = 4
		}
		mask, val := a.Addr.Bits()
		if off := val & mask & (unit - 1); off == 0 {
			continue
		}
		have := p.have(l.Item)
		does := wording.AccessFaults
		switch {
		case have.Has(isa.FeatM) && !have.Has(isa.FeatT32):
		case have.Has(isa.FeatV6) || have.Has(isa.FeatM):
			if a.How == isa.Loose {
				continue // it is allowed
			}
		case unit == 2:
			does = wording.AccessUnpredictable
		case a.Store || a.How == isa.Multiple:
			does = wording.AccessRounds
		default:
			does = wording.AccessRotates
		}
		text := wording.HeldText(a.Addr, p.known.PlaceName, p.known.RoutineOf)
		p.Report(p.StmtLoc(l.Item), finding.CodeMisaligned, wording.MisalignedAccess(l.Item.Stmt.Name, text, unit, does, p.Environments[l.Item.Environment].Target))
		return
	}
}
