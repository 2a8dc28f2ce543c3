package analysis

import (
	"encoding/binary"
	"fmt"
	"slices"
	"testing"

	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/firmware"
)

// TestListing holds the listing of generated programs against the assembler: what is at each
// offset begins where the one before it ends, labels are where their symbols are, and the
// codes are those of the object, but for what a linker fills in.
func TestListing(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	reftest.Require(t, "arm-none-eabi-as")
	n, first := reftest.Count(6, 60, 1500), reftest.Seed(0)
	codes, labels := 0, 0
	for seed := first; seed < first+n && !t.Failed(); seed++ {
		make := []func(uint64, int) string{firmware.Text, firmware.A32, firmware.T32}[seed%3]
		text := make(uint64(seed), 200)
		ref := reftest.AssembleFile(t, reftest.Options{Arch: "armv7-a"}, text)
		if !ref.OK {
			t.Fatalf("seed %d: the assembler refuses it", seed)
		}
		r := analyze(t, &Settings{Arch: "armv7-a"}, text)
		bySection := map[string][]Placed{}
		for _, p := range r.Listing() {
			bySection[p.Section] = append(bySection[p.Section], p)
		}
		for name, list := range bySection {
			slices.SortStableFunc(list, func(a, b Placed) int { return int(a.Offset - b.Offset) })
			data, at := ref.Sections[name], int64(0)
			relocated := map[int64]bool{}
			for _, x := range ref.Relocs[name] {
				relocated[int64(x.Offset)] = true
			}
			for _, p := range list {
				if p.Offset != at {
					t.Errorf("seed %d: %s+%d %q, and what is before it ends at %d", seed, name, p.Offset, p.Text, at)
					break
				}
				at = p.Offset + p.Size
				if p.State == "" || p.Code == "" || relocated[p.Offset] {
					continue
				}
				codes++
				if got := codeAt(data[p.Offset:], p.State); got != p.Code {
					t.Errorf("seed %d: %s+%d %q is %s, reference %s", seed, name, p.Offset, p.Text, p.Code, got)
				}
			}
			if at != ref.Sizes[name] && at+3 < ref.Sizes[name] {
				t.Errorf("seed %d: %s ends at %d, reference %d", seed, name, at, ref.Sizes[name])
			}
			for _, p := range list {
				if sym, ok := ref.Symbols[p.Text[:max(0, len(p.Text)-1)]]; ok && p.Size == 0 && sym.Section == name {
					labels++
					if int64(sym.Value) != p.Offset {
						t.Errorf("seed %d: %s at %d, reference %d", seed, p.Text, p.Offset, sym.Value)
					}
				}
			}
		}
	}
	proof.Counted("listings: programs %d, codes compared %d, labels %d", n, codes, labels)
	if codes < 50*n || labels < n {
		t.Errorf("only %d codes and %d labels were compared", codes, labels)
	}
}

// codeAt is the code at the beginning of some bytes, as the manuals write it.
func codeAt(data []byte, state string) string {
	half := func(i int) uint16 { return binary.LittleEndian.Uint16(data[i:]) }
	switch state {
	case "T16":
		return fmt.Sprintf("%04x", half(0))
	case "T32":
		return fmt.Sprintf("%04x%04x", half(0), half(2))
	}
	return fmt.Sprintf("%08x", binary.LittleEndian.Uint32(data))
}

// TestMapShares holds what the map says of a small program.
func TestMapShares(t *testing.T) {
	r := analyze(t, nil, "\t.syntax unified\n\t.arch armv6-m\n\t.thumb\n\t.global lamp\nlamp:\tpush {r4, lr}\n\tldr r0, =0x12345678\n\tbl off\n\tpop {r4, pc}\n\t.ltorg\noff:\tbx lr\n\t.data\n\t.byte 1\n")
	var got []string
	for _, s := range r.Map() {
		got = append(got, fmt.Sprintf("%s %s %s %d %v", s.Kind, s.Name, s.In, s.Bytes, s.Exact))
	}
	want := []string{"section .text .text 18 true", "routine lamp .text 10 true", "routine off .text 2 true", "pools 1 literal .text 4 true", "section .data .data 1 true"}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}
