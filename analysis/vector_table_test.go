package analysis_test

import "testing"

// TestVectorTable holds constants of vector moves at their borders.
func TestVectorTable(t *testing.T) {
	const neon = ".arch armv7-a|.fpu neon|.syntax unified|"
	var cases []verdictCase
	for _, c := range []struct{ line, errs string }{
		{"vmov.f32 q0,#0.0", ""}, {"vmov.f32 d0,#-0.0", ""}, {"vmov.f32 d0,#1.0", ""}, {"vmov.f32 q1,#31.0", ""}, {"vmov.f32 d0,#32.0", " @!"}, {"vmov.f32 d0,#0.1", " @!"},
		{"vmov.f32 s0,#0.0", " @!"}, {"vmov.f32 s0,#0.125", ""}, {"vmov.f32 s0,#0.0625", " @!"}, {"vmov.f64 d0,#-31.0", ""}, {"vmov.f64 d0,#0.0", " @!"},
		{"vmov.i32 d0,#0xff", ""}, {"vmov.i32 d0,#0x101", " @!"}, {"vmov.i32 d0,#0xff00", ""}, {"vmov.i32 d0,#0x1ff", ""}, {"vmov.i32 d0,#0x2ff", ""}, {"vmov.i32 d0,#0x100fe", " @!"},
		{"vmov.i16 q0,#0xff00", ""}, {"vmov.i16 q0,#0x101", ""}, {"vmov.i16 q0,#0x102", " @!"}, {"vmov.i8 d0,#255", ""}, {"vmov.i8 d0,#256", " @!"},
		{"vmov.i64 d0,#0xff00ff0000ff00ff", ""}, {"vmov.i64 d0,#0xff00ff0000ff00fe", " @!"}, {"vmvn.i32 d0,#0xff", ""}, {"vorr.i32 d0,#0xff00", ""}, {"vorr.i32 d0,#0xff01", " @!"},
	} {
		cases = append(cases, verdictCase{name: c.line, src: neon + c.line + c.errs}, verdictCase{name: c.line + " in T32", src: neon + ".thumb|" + c.line + c.errs})
	}
	runVerdicts(t, cases)
}
