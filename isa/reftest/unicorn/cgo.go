//go:build reftools

package unicorn

/*
#cgo LDFLAGS: -lunicorn
#include <stdlib.h>
#include <unicorn/unicorn.h>

#define RT_WATCHED 256

// What the hooks noticed during a run, and a run's state before and after.
typedef struct {
	uint32_t regs[16];
	uint32_t psr, zero;
	uint32_t fault;
	int exception;
	int floats; // whether d and fpscr are part of it
	uint64_t d[32];
	uint32_t fpscr;
	struct rt_step *steps; // the state before each instruction, where there is room for it
	int room, count;
	uint32_t watched; // the address of what they have of memory
} rt_state;

// One of the states that a run goes through.
typedef struct rt_step {
	uint32_t regs[16];
	uint32_t psr;
	uint8_t mem[RT_WATCHED];
} rt_step;

// The processor goes on after an interrupt that a hook has seen: stop it.
static void rt_on_interrupt(uc_engine *uc, uint32_t number, void *state) {
	((rt_state *)state)->exception = (int)number;
	uc_emu_stop(uc);
}

static bool rt_on_fault(uc_engine *uc, uc_mem_type type, uint64_t addr, int size, int64_t value, void *state) {
	((rt_state *)state)->fault = (uint32_t)addr;
	return false;
}

static int rt_core[17] = {
	0, UC_ARM_REG_R0, UC_ARM_REG_R1, UC_ARM_REG_R2, UC_ARM_REG_R3, UC_ARM_REG_R4, UC_ARM_REG_R5,
	UC_ARM_REG_R6, UC_ARM_REG_R7, UC_ARM_REG_R8, UC_ARM_REG_R9, UC_ARM_REG_R10, UC_ARM_REG_R11,
	UC_ARM_REG_R12, UC_ARM_REG_R13, UC_ARM_REG_R14, UC_ARM_REG_R15};

// Notes the state before an instruction.
static void rt_on_code(uc_engine *uc, uint64_t addr, uint32_t size, void *state) {
	rt_state *s = state;
	rt_step *x;
	int names[17];
	void *vals[17];
	if (s->count >= s->room) return;
	x = &s->steps[s->count++];
	for (int i = 1; i < 17; i++) {
		names[i - 1] = rt_core[i];
		vals[i - 1] = &x->regs[i - 1];
	}
	names[16] = UC_ARM_REG_CPSR;
	vals[16] = &x->psr;
	uc_reg_read_batch(uc, names, vals, 17);
	x->regs[15] = (uint32_t)addr;
	uc_mem_read(uc, s->watched, x->mem, RT_WATCHED);
}

// Has each instruction noted from now on, in memory for so many.
static uc_err rt_follow(uc_engine *uc, rt_state *s, int most) {
	uc_hook hook;
	s->steps = calloc(most, sizeof(rt_step));
	if (!s->steps) return UC_ERR_NOMEM;
	s->room = most;
	return uc_hook_add(uc, &hook, UC_HOOK_CODE, rt_on_code, s, 1, 0);
}

static uc_err rt_open(int mode, int cpu, rt_state *s, uc_engine **uc) {
	uc_hook hook;
	uc_err e = uc_open(UC_ARCH_ARM, mode, uc);
	if (e) return e;
	if ((e = uc_ctl_set_cpu_model(*uc, cpu))) goto fail;
	if ((e = uc_hook_add(*uc, &hook, UC_HOOK_INTR, rt_on_interrupt, s, 1, 0))) goto fail;
	if ((e = uc_hook_add(*uc, &hook, UC_HOOK_MEM_INVALID, rt_on_fault, s, 1, 0))) goto fail;
	return UC_ERR_OK;
fail:
	uc_close(*uc);
	return e;
}

// Writes memory, and forgets what was translated from there: the library by
// itself goes on with the code that it has seen at an address.
static uc_err rt_write(uc_engine *uc, uint32_t addr, void *data, size_t n) {
	uc_err e = uc_mem_write(uc, addr, data, n);
	return e ? e : uc_ctl_remove_cache(uc, (uint64_t)addr, (uint64_t)addr + n);
}

// Writes or reads the registers of floating point.
static uc_err rt_floats(uc_engine *uc, rt_state *s, int write) {
	uc_err e;
	for (int i = 0; i < 32; i++) {
		if ((e = write ? uc_reg_write(uc, UC_ARM_REG_D0 + i, &s->d[i]) : uc_reg_read(uc, UC_ARM_REG_D0 + i, &s->d[i]))) return e;
	}
	return write ? uc_reg_write(uc, UC_ARM_REG_FPSCR, &s->fpscr) : uc_reg_read(uc, UC_ARM_REG_FPSCR, &s->fpscr);
}

// Sets the state, runs, and reads the state back. The status register comes
// first: it decides which of the banked registers the others are. The result
// is the setting's or the reading's; *run is the run's.
static uc_err rt_run(uc_engine *uc, rt_state *s, int m, uint32_t start, uint32_t stop, size_t limit, uc_err *run) {
	int names[17];
	void *vals[17];
	uc_err e;
	names[0] = m ? UC_ARM_REG_XPSR : UC_ARM_REG_CPSR;
	vals[0] = &s->psr;
	for (int i = 1; i < 17; i++) {
		names[i] = rt_core[i];
		vals[i] = &s->regs[i - 1];
	}
	s->fault = 0;
	s->exception = 0;
	s->count = 0;
	if (m) {
		s->zero = 0;
		if ((e = uc_reg_write(uc, UC_ARM_REG_CONTROL, &s->zero))) return e;
		if ((e = uc_reg_write(uc, UC_ARM_REG_PRIMASK, &s->zero))) return e;
	}
	if ((e = uc_reg_write_batch(uc, names, vals, 16))) return e; // all but the PC
	if (s->floats && (e = rt_floats(uc, s, 1))) return e;
	*run = uc_emu_start(uc, start, stop, 0, limit);
	if (s->floats && (e = rt_floats(uc, s, 0))) return e;
	return uc_reg_read_batch(uc, names, vals, 17);
}
*/
import "C"

import (
	"fmt"
	"unsafe"
)

// Built says whether the library is linked.
const Built = true

var cpus = map[string]C.int{
	"armv4t":       C.UC_CPU_ARM_TI925T,
	"armv5te":      C.UC_CPU_ARM_926,
	"armv6":        C.UC_CPU_ARM_1136_R2,
	"armv6k":       C.UC_CPU_ARM_1176,
	"armv6-m":      C.UC_CPU_ARM_CORTEX_M0,
	"armv7-m":      C.UC_CPU_ARM_CORTEX_M3,
	"armv7e-m":     C.UC_CPU_ARM_CORTEX_M4,
	"armv8-m.main": C.UC_CPU_ARM_CORTEX_M33,
	"armv7-a":      C.UC_CPU_ARM_CORTEX_A8,
	"armv7ve":      C.UC_CPU_ARM_CORTEX_A15,
	"armv8-a":      C.UC_CPU_ARM_MAX,
}

// flagBits are the bits of CPSR and xPSR that a snippet hands in and gets
// back.
const flagBits = FlagN | FlagZ | FlagC | FlagV | FlagQ | FlagsGE

// ucError is the library's error number.
func ucError(what string, e C.uc_err) error {
	if e == C.UC_ERR_OK {
		return nil
	}
	return fmt.Errorf("%s: error %d of the library", what, int(e))
}

// impl is the library's engine; state is C memory, as the hooks keep it.
type impl struct {
	uc    *C.uc_engine
	state *C.rt_state
}

func (e *impl) open(arch string, mProfile bool) error {
	// Not UC_MODE_MCLASS: with it Unicorn 2.0.1 takes the Cortex-M33 whatever
	// model is set. TestRestriction would notice.
	mode := C.int(C.UC_MODE_ARM)
	if mProfile {
		mode = C.UC_MODE_THUMB
	}
	e.state = (*C.rt_state)(C.calloc(1, C.sizeof_rt_state))
	if err := ucError("open", C.rt_open(mode, cpus[arch], e.state, &e.uc)); err != nil {
		C.free(unsafe.Pointer(e.state))
		return err
	}
	return nil
}

func (e *impl) close() {
	C.uc_close(e.uc)
	C.free(unsafe.Pointer(e.state.steps))
	C.free(unsafe.Pointer(e.state))
}

func (e *impl) follow(most int) error {
	return ucError("follow", C.rt_follow(e.uc, e.state, C.int(most)))
}

// steps are the states that the last run has gone through. A rt_step is laid out as a Step.
func (e *impl) steps(out []Step) []Step {
	n := len(out)
	out = append(out, unsafe.Slice((*Step)(unsafe.Pointer(e.state.steps)), int(e.state.count))...)
	for i := range out[n:] {
		out[n+i].Flags &= flagBits
	}
	return out
}

var _ = [1]struct{}{}[unsafe.Sizeof(Step{})-C.sizeof_rt_step]

func (e *impl) mapMemory(addr, size uint32) error {
	return ucError("map", C.uc_mem_map(e.uc, C.uint64_t(addr), C.size_t(size), C.UC_PROT_ALL))
}

func (e *impl) write(addr uint32, data []byte) error {
	if len(data) == 0 {
		return nil
	}
	c := C.rt_write(e.uc, C.uint32_t(addr), unsafe.Pointer(&data[0]), C.size_t(len(data)))
	return ucError(fmt.Sprintf("write %d bytes at %#x", len(data), addr), c)
}

func (e *impl) read(addr uint32, data []byte) error {
	if len(data) == 0 {
		return nil
	}
	c := C.uc_mem_read(e.uc, C.uint64_t(addr), unsafe.Pointer(&data[0]), C.size_t(len(data)))
	return ucError(fmt.Sprintf("read %d bytes at %#x", len(data), addr), c)
}

// The status register around the flags: CPSR in System mode with interrupts
// masked, xPSR in Thread mode (Arm ARM, "Format of the CPSR and SPSRs";
// ARMv6-M ARM, "The special-purpose program status registers, xPSR").
const (
	cpsrBase = 0xdf
	cpsrT    = 1 << 5
	xpsrT    = 1 << 24
)

func (e *impl) run(s *Snippet, mProfile bool) (Result, error) {
	var r Result
	for _, m := range s.Mem {
		if err := e.write(m.Addr, m.Data); err != nil {
			return r, err
		}
	}
	if err := e.write(s.Addr, s.Code); err != nil {
		return r, err
	}
	st, start, stop := e.state, s.Addr, s.Stop
	for i, v := range s.Regs {
		st.regs[i] = C.uint32_t(v)
	}
	psr, m := s.Flags&flagBits, C.int(0)
	if mProfile {
		psr, m = psr|xpsrT, 1
	} else {
		psr |= cpsrBase
		if s.Thumb {
			psr |= cpsrT
		}
	}
	if s.Thumb {
		start |= 1
	}
	st.psr, st.watched = C.uint32_t(psr), C.uint32_t(s.Watched)
	st.floats = 0
	if s.Floats != nil {
		st.floats, st.fpscr = 1, C.uint32_t(s.Floats.FPSCR)
		for i, d := range s.Floats.D {
			st.d[i] = C.uint64_t(d)
		}
	}
	var code C.uc_err
	if err := ucError("set up", C.rt_run(e.uc, st, m, C.uint32_t(start), C.uint32_t(stop), C.size_t(s.Limit), &code)); err != nil {
		return r, err
	}
	for i := range r.Regs {
		r.Regs[i] = uint32(st.regs[i])
	}
	r.Regs[15] &^= 1
	if s.Floats != nil {
		r.Floats = &Floats{FPSCR: uint32(st.fpscr)}
		for i := range r.Floats.D {
			r.Floats.D[i] = uint64(st.d[i])
		}
	}
	end := uint32(st.psr)
	r.Flags, r.Thumb, r.Code = end&flagBits, mProfile || end&cpsrT != 0, int(code)
	switch {
	case st.exception != 0:
		r.Why, r.Exception = Raised, int(st.exception)
	case code == C.UC_ERR_INSN_INVALID:
		r.Why = Undefined
	case code == C.UC_ERR_READ_UNMAPPED, code == C.UC_ERR_WRITE_UNMAPPED, code == C.UC_ERR_FETCH_UNMAPPED:
		r.Why, r.Fault = Faulted, uint32(st.fault)
	case code != C.UC_ERR_OK:
		r.Why = Failed
	case r.Regs[15] == s.Stop:
		r.Why = Reached
	default:
		r.Why = Limited
	}
	for _, m := range s.Mem {
		now := Region{m.Addr, make([]byte, len(m.Data))}
		if err := e.read(m.Addr, now.Data); err != nil {
			return r, err
		}
		r.Mem = append(r.Mem, now)
	}
	return r, nil
}
