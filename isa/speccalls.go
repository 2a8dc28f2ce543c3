package isa

// The calls of a method of an operand of any kind for each statement. They name all
// kinds so that the compiler sees what is called: through the interface it would
// have to put the match, the query and the fields of each statement on the heap.
// (TestNoAllocations holds that it does not, TestSpecs that no kind is missing.)

// takes says whether s.check finds nothing amiss.
func takes(s spec, f *Form, q *Query, op *Operand, m *binding) bool {
	// The most frequent ones first: to compare with one type is quicker than a switch.
	if s, ok := s.(*regSpec); ok {
		return s.check(f, q, op, m).Reason == OK
	}
	if s, ok := s.(*constSpec); ok {
		return s.check(f, q, op, m).Reason == OK
	}
	if s, ok := s.(*memSpec); ok {
		return s.check(f, q, op, m).Reason == OK
	}
	if s, ok := s.(*fixedSpec); ok {
		return s.check(f, q, op, m).Reason == OK
	}
	if s, ok := s.(*lowListSpec); ok {
		return s.check(f, q, op, m).Reason == OK
	}
	if s, ok := s.(*targetSpec); ok {
		return s.check(f, q, op, m).Reason == OK
	}
	switch s := s.(type) {
	case *listSpec:
		return s.check(f, q, op, m).Reason == OK
	case *addrSpec:
		return s.check(f, q, op, m).Reason == OK
	case *wideConstSpec:
		return s.check(f, q, op, m).Reason == OK
	case *anyShiftSpec:
		return s.check(f, q, op, m).Reason == OK
	case *byteSpec:
		return s.check(f, q, op, m).Reason == OK
	case *rotationSpec:
		return s.check(f, q, op, m).Reason == OK
	case *widthSpec:
		return s.check(f, q, op, m).Reason == OK
	case *optionSpec:
		return s.check(f, q, op, m).Reason == OK
	case *oneSpec:
		return s.check(f, q, op, m).Reason == OK
	case *nextSpec:
		return s.check(f, q, op, m).Reason == OK
	case *shiftSpec:
		return s.check(f, q, op, m).Reason == OK
	case *shiftByRegSpec:
		return s.check(f, q, op, m).Reason == OK
	case *anyShiftByRegSpec:
		return s.check(f, q, op, m).Reason == OK
	case *twoPartsSpec:
		return s.check(f, q, op, m).Reason == OK
	case *vectorRegSpec:
		return s.check(f, q, op, m).Reason == OK
	case *nextSingleSpec:
		return s.check(f, q, op, m).Reason == OK
	case *laneSpec:
		return s.check(f, q, op, m).Reason == OK
	case *eightBitsSpec:
		return s.check(f, q, op, m).Reason == OK
	case *zeroSpec:
		return s.check(f, q, op, m).Reason == OK
	case *placesSpec:
		return s.check(f, q, op, m).Reason == OK
	case *vectorListSpec:
		return s.check(f, q, op, m).Reason == OK
	case *structureSpec:
		return s.check(f, q, op, m).Reason == OK
	case *elementAddressSpec:
		return s.check(f, q, op, m).Reason == OK
	case *wordSpec:
		return s.check(f, q, op, m).Reason == OK
	case *lettersSpec:
		return s.check(f, q, op, m).Reason == OK
	case *statusSpec:
		return s.check(f, q, op, m).Reason == OK
	case *numberedSpec:
		return s.check(f, q, op, m).Reason == OK
	case *vectorConstantSpec:
		return s.check(f, q, op, m).Reason == OK
	}
	panic("isa: an operand of a kind that takes does not name")
}

// mayWrite is s.may.
func mayWrite(s spec, f *Form, have Features, vals *[maxFields]uint32) bool {
	switch s := s.(type) {
	case *regSpec:
		return s.may(f, have, vals)
	case *memSpec:
		return s.may(f, have, vals)
	case *listSpec:
		return s.may(f, have, vals)
	case *addrSpec:
		return s.may(f, have, vals)
	case *wideConstSpec:
		return s.may(f, have, vals)
	case *oneSpec:
		return s.may(f, have, vals)
	case *nextSpec:
		return s.may(f, have, vals)
	case *shiftSpec:
		return s.may(f, have, vals)
	case *shiftByRegSpec:
		return s.may(f, have, vals)
	case *vectorRegSpec:
		return s.may(f, have, vals)
	case *nextSingleSpec:
		return s.may(f, have, vals)
	case *placesSpec:
		return s.may(f, have, vals)
	case *vectorListSpec:
		return s.may(f, have, vals)
	case *elementAddressSpec:
		return s.may(f, have, vals)
	case *wordSpec:
		return s.may(f, have, vals)
	case *lettersSpec:
		return s.may(f, have, vals)
	case *statusSpec:
		return s.may(f, have, vals)
	case *vectorConstantSpec:
		return s.may(f, have, vals)
	}
	return true // as those that have no method of their own
}
