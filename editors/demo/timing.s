@ timing.s - the tick of 10 ms (T16). boot.s counts it in the interrupt.

        .syntax unified
        .arch   armv4t
        .include "layout.inc"

        .text
        .thumb

@ timing_init: starts the timer. Leaf.
        .global timing_init
        .type   timing_init, %function
        .thumb_func
timing_init:
        ldr     r0, =TIMER_BASE
        ldr     r1, =CLOCK_HZ / TICK_HZ - 1
        str     r1, [r0, #TIMER_RELOAD]
        movs    r1, #TIMER_RUN
        str     r1, [r0, #TIMER_CONTROL]
        bx      lr
        .size   timing_init, . - timing_init

@ ticks_now: out: r0 = ticks since the start, modulo 2^32. Leaf.
        .global ticks_now
        .type   ticks_now, %function
        .thumb_func
ticks_now:
        ldr     r0, =tick_count
        ldr     r0, [r0]
        bx      lr
        .size   ticks_now, . - ticks_now

@ wait_tick: r0 = tick last seen. Waits for another. Out: r0 = that. Leaf.
@ Compares for 'not equal', so that the wrap after 497 days does no harm.
        .global wait_tick
        .type   wait_tick, %function
        .thumb_func
wait_tick:
        ldr     r1, =tick_count
1:      ldr     r2, [r1]
        cmp     r2, r0
        beq     1b
        movs    r0, r2
        bx      lr
        .ltorg
        .size   wait_tick, . - wait_tick

        .bss
        .balign 4
        .global tick_count
tick_count:
        .space  4

        .end
