package check

import (
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// misaligned finds accesses at an address that is known not to be a multiple of what it has
// to be.
func misaligned(p *job, l *flow.Line) {
	for i := range l.Touches {
		a := &l.Touches[i]
		unit, does := p.askedOf(l.Item, a, i == 0)
		mask, val := a.Addr.Bits()
		if does == "" || val&mask&(unit-1) == 0 {
			continue
		}
		text := wording.HeldText(a.Addr, p.known.PlaceName, p.known.RoutineOf)
		p.Report(p.StmtLoc(l.Item), finding.CodeMisaligned, wording.MisalignedAccess(l.Item.Stmt.Name, text, unit, does, p.Environments[l.Item.Environment].Target))
		return
	}
}

// askedOf is what the address of an access has to be a multiple of on the target, and what the
// core does where it is not; empty where that is allowed. first says that it is the first access
// of its line. TestMisaligned has each case:
//
//   - ARMv6-M and the baseline of ARMv8-M fault on each (DDI 0419, A3.2.1; DDI 0553, B3.5, from
//     memory).
//   - ARMv7-M, the mainline of ARMv8-M, ARMv6 with U = 1, ARMv7 and later fault on LDM, LDRD,
//     LDREX, SWP and their like, and allow the others (DDI 0403, A3.2.1; DDI 0406C, A3.2.1 and
//     table A3-1). Exclusive accesses to two words need a multiple of 8 there.
//   - Up to ARMv5 LDR rotates, STR and LDM do not look at the low bits, halfwords are
//     unpredictable (ARM7TDMI data sheet, 4.9.3, 4.11.3 and 4.10.4; DUI 0068B, 4-10), SWP is
//     LDR and STR (4.12.1).
//   - LDRD and STRD of ARMv5TE need a multiple of 8, and are unpredictable elsewhere (DDI
//     0100I, A4, "LDRD" and "STRD", from memory).
func (p *job) askedOf(it *program.Item, a *flow.Touch, first bool) (unit uint32, does string) {
	have := p.have(it)
	unit = uint32(a.Size)
	if a.How == isa.Multiple {
		unit = 4
	}
	op, _, _ := it.Stmt.Mnemonic.Operation()
	modern := have.Has(isa.FeatV6) || have.Has(isa.FeatM)
	if modern && first && (op == "ldrexd" || op == "strexd" || op == "ldaexd" || op == "stlexd") || !modern && first && (op == "ldrd" || op == "strd") {
		unit = 8
	}
	switch {
	case have.Has(isa.FeatM) && !have.Has(isa.FeatT32):
		return unit, wording.AccessFaults
	case modern && a.How == isa.Loose:
		return unit, ""
	case modern:
		return unit, wording.AccessFaults
	case unit == 2, unit == 8, op == "ldrd", op == "strd":
		return unit, wording.AccessUnpredictable
	case a.Store, a.How == isa.Multiple:
		return unit, wording.AccessRounds
	}
	return unit, wording.AccessRotates
}
