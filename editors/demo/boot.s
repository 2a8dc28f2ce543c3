@ boot.s - reset, exceptions and the timer interrupt of the signal box.
@
@ Firmware of an invented model-railway signal box on an ARM7TDMI. This file
@ is A32, because exceptions are entered in A32 and T16 has no msr; the rest
@ is T16. Build, in this folder:
@
@   for f in boot main points report routes sensors signals tables timing
@   do arm-none-eabi-as -march=armv4t -o $f.o $f.s; done
@   arm-none-eabi-ld -T signalbox.ld -o signalbox.elf *.o

        .syntax unified
        .arch   armv4t
        .include "layout.inc"
        .extern main, tick_count
        .extern data_load, data_start, data_end, bss_start, bss_end
        .extern stack_top, irq_stack_top

        .section .vectors, "ax", %progbits
        .arm
        .global vectors
vectors:
        ldr     pc, vector_reset
        ldr     pc, vector_undefined
        ldr     pc, vector_swi
        ldr     pc, vector_prefetch
        ldr     pc, vector_data
        nop                             @ reserved
        ldr     pc, vector_irq
        ldr     pc, vector_fiq

@ Nothing but the timer is expected. Whatever else comes stops the railway.
vector_reset:           .word   reset
vector_undefined:       .word   fail_safe
vector_swi:             .word   fail_safe
vector_prefetch:        .word   fail_safe
vector_data:            .word   fail_safe
vector_irq:             .word   timer_irq
vector_fiq:             .word   fail_safe

        .text
        .arm
        .global reset
        .type   reset, %function
reset:
        msr     cpsr_c, #MODE_IRQ | NO_IRQ | NO_FIQ
        ldr     sp, =irq_stack_top
        msr     cpsr_c, #MODE_SYS | NO_IRQ | NO_FIQ
        ldr     sp, =stack_top

        ldr     r0, =data_load          @ initial values from ROM
        ldr     r1, =data_start
        ldr     r2, =data_end
copy_data:
        cmp     r1, r2
        ldrlo   r3, [r0], #4
        strlo   r3, [r1], #4
        blo     copy_data

        ldr     r1, =bss_start          @ zeros for the rest
        ldr     r2, =bss_end
        mov     r3, #0
clear_bss:
        cmp     r1, r2
        strlo   r3, [r1], #4
        blo     clear_bss

        msr     cpsr_c, #MODE_SYS | NO_FIQ      @ the timer is not running yet
        ldr     lr, =fail_safe          @ main must not return
        ldr     r0, =main               @ bit 0 is set: main is T16
        bx      r0
        .size   reset, . - reset

@ The timer wrapped: count one tick. Both registers are saved; ldm with ^
@ brings the interrupted mode and instruction set back.
        .type   timer_irq, %function
timer_irq:
        sub     lr, lr, #4
        push    {r0, r1, lr}
        ldr     r0, =TIMER_BASE
        mov     r1, #1
        str     r1, [r0, #TIMER_ACK]
        ldr     r0, =tick_count
        ldr     r1, [r0]
        add     r1, r1, #1
        str     r1, [r0]
        ldm     sp!, {r0, r1, pc}^
        .size   timer_irq, . - timer_irq

@ Every signal to danger, every point motor off, and stop. Uses no stack.
        .global fail_safe
        .type   fail_safe, %function
fail_safe:
        msr     cpsr_c, #MODE_SVC | NO_IRQ | NO_FIQ
        ldr     r0, =SIGNALS_BASE
        mov     r1, #RED
        mov     r2, #SIGNAL_COUNT
1:      str     r1, [r0], #4
        subs    r2, r2, #1
        bne     1b
        ldr     r0, =POINTS_BASE
        mov     r1, #0
        str     r1, [r0, #POINTS_DRIVE]
2:      b       2b
        .size   fail_safe, . - fail_safe

        .pool
        .end
