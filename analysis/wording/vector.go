package wording

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/isa"
)

// refuseVector reports what is wrong with registers, elements, constants and
// types of floating point and vectors.
func (p *Reporter) refuseVector(it *program.Item, at program.Place, name string, r isa.Refusal, rs []isa.Refusal, q *isa.Query) {
	switch r.Reason {
	case isa.NoD32:
		p.Report(at, finding.CodeNotOnArch, fmt.Sprintf("There is no d%d: %s has only d0–d15.", r.Reg, p.TargetName(it)))
	case isa.NotNext:
		p.Report(at, finding.CodeNoForm, fmt.Sprintf("%s takes two consecutive single registers; s%d does not follow the one before.", name, r.Reg))
	case isa.BadLane:
		what := fmt.Sprint(r.Value)
		if r.Value == isa.NoLane-1 {
			what = "what is in the brackets"
		}
		p.Report(at, finding.CodeConstRange, fmt.Sprintf("%s takes the elements %s here, not %s.", name, isa.Limits(r.Min, r.Max, 1), what))
	case isa.NoVFP8:
		bits := uint32(r.Value)
		if p.Ops[r.Op].Kind != isa.OpFloat {
			bits = math.Float32bits(float32(r.Value))
		}
		x := math.Float32frombits(bits)
		below, above := isa.NearVFP(bits)
		near := ""
		switch {
		case math.IsInf(float64(below), 0), below < 0 && x > 0:
			near = isa.FloatText(above)
		case math.IsInf(float64(above), 0), x < 0 && above > 0:
			near = isa.FloatText(below)
		default:
			near = isa.FloatText(below) + " and " + isa.FloatText(above)
		}
		p.Report(at, finding.CodeConstRange, fmt.Sprintf("%s takes ±n/16 × 2^r with n 16–31 and r −3 to 4; %s is not such a number; nearest %s.", name, isa.FloatText(x), near))
	case isa.ListCount:
		var counts []int
		for _, x := range rs {
			if n, _ := x.Form.Structure(); x.Reason == isa.ListCount {
				counts = append(counts, n)
			}
		}
		slices.Sort(counts)
		p.Report(at, finding.CodeRegList, fmt.Sprintf("%s takes %s double registers in this list; it has %d.", name, orText(slices.Compact(counts)), r.Value))
	case isa.ListGap:
		gaps := []string{1: "consecutive registers", 2: "every second register"}
		_, gap := r.Form.Structure()
		p.Report(at, finding.CodeRegList, fmt.Sprintf("%s takes %s in this list, not %s.", name, gaps[gap], gaps[r.Value]))
	case isa.NoPoint:
		p.Report(at, finding.CodeNoForm, name+" takes a floating-point constant here; write it with a point.")
	case isa.NoVConst:
		what := "a constant of which each element has one byte that is not 0, may have ones below it, or is made of equal halves; or the inverse of such a constant"
		if bits, combined := r.Form.Constant(); combined {
			what = "a constant of which each element, or each half of it, has at most one byte that is not 0"
			if strings.HasPrefix(strings.ToLower(name), "va") || strings.HasPrefix(strings.ToLower(name), "vorn") {
				what = "the inverse of " + what
			}
		} else if bits == 64 {
			what = "a constant whose bytes are all 0 or 255, or which repeats a word"
		}
		p.Report(at, finding.CodeConstRange, fmt.Sprintf("%s takes %s; %s is not.", name, what, p.OpText(it, r.Op)))
	case isa.NoAlign:
		switch bits := r.Form.Alignments(); {
		case len(bits) == 0:
			p.Report(at, finding.CodeConstRange, name+" takes an address without alignment here.")
		case r.Value == 0:
			p.Report(at, finding.CodeConstRange, fmt.Sprintf("%s needs an address with an alignment of %s bits here.", name, orText(bits)))
		default:
			p.Report(at, finding.CodeConstRange, fmt.Sprintf("%s takes an alignment of %s bits here, or none.", name, orText(bits)))
		}
	case isa.BadVList:
		if n, _ := r.Form.Structure(); n > 0 {
			p.Report(at, finding.CodeRegList, name+" takes double registers in ascending order in its list, consecutive or every second one, all with the same element or all without.")
			break
		}
		if r.Value > 16 {
			p.Report(at, finding.CodeRegList, fmt.Sprintf("%s takes at most 16 double registers; here are %d.", name, r.Value))
			break
		}
		p.Report(at, finding.CodeRegList, fmt.Sprintf("%s takes consecutive registers in its list: %s.", name, listText(r.Form)))
	case isa.NoType:
		var forms []string
		for _, x := range rs {
			if s := x.Form.String(); !x.Form.Alias && len(forms) < 2 && p.Environments[it.Environment].Have.Has(x.Form.Row.Need) {
				forms = append(forms, s)
			}
		}
		if len(forms) == 0 {
			forms = append(forms, rs[0].Form.String())
		}
		p.Report(p.NameLoc(it), finding.CodeNoForm, fmt.Sprintf("%s needs a type that fits its operands, written once on the name or on each register; there is %s.", name, strings.Join(forms, " and ")))
	}
}
