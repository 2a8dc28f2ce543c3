package flow

import (
	"narrowgauge/analysis/values"
	"narrowgauge/isa"
)

// The places of flags in State.Flags.
const (
	flagN = iota
	flagZ
	flagC
	flagV
)

// assume notes that a condition holds: what that says of the flags, and of the registers
// that they have been set by.
func (s *State) assume(c isa.Cond) {
	yes := c&1 == 0
	switch c >> 1 {
	case 0:
		s.zeroFlag(yes)
	case 1:
		s.set(flagC, yes)
		s.carry(yes, false)
	case 2:
		s.set(flagN, yes)
		s.sign(yes)
	case 3:
		s.set(flagV, yes)
	case 4:
		if yes {
			s.set(flagC, true)
			s.set(flagZ, false)
		}
		s.carry(yes, true)
	case 5:
		s.compared(yes, false)
	case 6:
		if yes {
			s.set(flagZ, false)
		}
		s.compared(yes, true)
	}
}

func (s *State) set(flag int, to bool) {
	w := &s.Flags[flag]
	n := uint32(0)
	if to {
		n = 1
	}
	about, since := w.About, w.Since
	*w = w.Limit(n, n)
	w.About, w.Since = about, since
}

// each changes the registers that have the value that a flag is about; plus is what has
// been added to it since.
func (s *State) each(flag int, change func(w values.Word, plus uint32) values.Word) {
	f := s.Flags[flag]
	if f.About == 0 {
		return
	}
	for r := range s.Regs {
		if w := s.Regs[r]; w.ID == f.About {
			was := w
			if w = change(w, w.Plus-f.Since); !w.Same(was) {
				w.Assumed = w.Assumed || f.Assumed
				w.ID, w.Plus = was.ID, was.Plus
				s.Regs[r] = w
			}
		}
	}
}

// zeroFlag: Z says that a value is 0, or is not.
func (s *State) zeroFlag(is bool) {
	s.set(flagZ, is)
	s.each(flagZ, func(w values.Word, plus uint32) values.Word {
		if is {
			return w.Limit(plus, plus)
		}
		return w.Not(plus)
	})
}

// sign: N says that a value is negative, or is not.
func (s *State) sign(is bool) {
	s.each(flagN, func(w values.Word, plus uint32) values.Word {
		switch {
		case plus != 0:
		case is:
			return w.Limit(1<<31, ^uint32(0))
		default:
			return w.Limit(0, 1<<31-1)
		}
		return w
	})
}

// against is what a value has been compared with, where one line has set a flag by the
// difference, and Z.
func (s *State) against(flag int) (n uint32, ok bool) {
	f, z := s.Flags[flag], s.Flags[flagZ]
	return f.Since - z.Since, f.About != 0 && f.About == z.About && s.by[flag] == s.by[flagZ] && s.by[flag] >= 0
}

// carry: C says that a value is not below another one, without sign, or is; with above that
// it is above it, or is not.
func (s *State) carry(is, above bool) {
	n, ok := s.against(flagC)
	if !ok {
		return
	}
	s.each(flagC, func(w values.Word, plus uint32) values.Word {
		switch {
		case plus != 0:
		case is && !above:
			return w.Limit(n, ^uint32(0))
		case is && n != ^uint32(0):
			return w.Limit(n+1, ^uint32(0))
		case !is && above:
			return w.Limit(0, n)
		case !is && n != 0:
			return w.Limit(0, n-1)
		}
		return w
	})
}

// compared: N and V say that a value is not less than another one, with sign, or is; with
// greater that it is greater, or is not. Only what is not negative is looked at.
func (s *State) compared(is, greater bool) {
	n, ok := s.against(flagV)
	if !ok || s.by[flagN] != s.by[flagV] || n > 1<<31-1 {
		return
	}
	s.each(flagV, func(w values.Word, plus uint32) values.Word {
		below := w.Base.Kind == values.None && w.Hi <= 1<<31-1
		switch {
		case plus != 0:
		case is && !greater:
			return w.Limit(n, 1<<31-1)
		case is && n < 1<<31-1:
			return w.Limit(n+1, 1<<31-1)
		case !is && greater && below:
			return w.Limit(0, n)
		case !is && !greater && below && n > 0:
			return w.Limit(0, n-1)
		}
		return w
	})
}
