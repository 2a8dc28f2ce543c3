package assemble

import (
	"narrowgauge/analysis/program"
)

// environment is what statements are assembled for: mode, syntax and target.
type environment struct {
	prog    *program.Program
	current program.Environment
	envID   int16 // its number in the program
}

// setEnv makes cur the environment of what follows.
func (v *environment) setEnv(e program.Environment) {
	if e == v.current {
		return
	}
	v.current = e
	for i := range v.prog.Environments {
		if v.prog.Environments[i] == e {
			v.envID = int16(i)
			return
		}
	}
	v.envID = int16(len(v.prog.Environments))
	v.prog.Environments = append(v.prog.Environments, e)
}
