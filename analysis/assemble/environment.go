package assemble

import (
	"narrowgauge/analysis/program"
)

// environment is what statements are assembled for: mode, syntax and target.
type environment struct {
	prog  *program.Program
	cur   program.Env
	envID int16 // its number in the program
}

// setEnv makes cur the environment of what follows.
func (v *environment) setEnv(e program.Env) {
	if e == v.cur {
		return
	}
	v.cur = e
	for i := range v.prog.Envs {
		if v.prog.Envs[i] == e {
			v.envID = int16(i)
			return
		}
	}
	v.envID = int16(len(v.prog.Envs))
	v.prog.Envs = append(v.prog.Envs, e)
}
