package isa_test

import "narrowgauge/isa"

// lateFeatures are those that the lists of targets do not have yet.
var lateFeatures = map[string]isa.Features{
	"armv6kz":       isa.FeatSMC,
	"armv7ve":       isa.FeatSMC | isa.FeatVirt | isa.FeatMP | isa.FeatDivA,
	"armv8-a":       v8,
	"armv8-a+crc":   v8 | isa.FeatCRC,
	"armv8.5-a+ras": v8 | isa.FeatCRC | isa.FeatRAS | isa.FeatPAN | isa.FeatSB,
}

const v8 = isa.FeatSMC | isa.FeatVirt | isa.FeatMP | isa.FeatDivA | isa.FeatLDA | isa.FeatV8 | isa.FeatHlt
