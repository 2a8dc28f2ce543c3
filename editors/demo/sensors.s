@ sensors.s - track occupation, debounced (T16).
@
@ Dirty wheels make a section flicker. A section changes only after four
@ equal samples in a row. All sections are counted at once: two words hold
@ bit 0 and bit 1 of every section's own two-bit counter.

        .syntax unified
        .arch   armv4t
        .include "layout.inc"

        .text
        .thumb

@ sensors_init: a section is occupied until it has shown that it is not.
        .global sensors_init
        .type   sensors_init, %function
        .thumb_func
sensors_init:
        ldr     r0, =track
        movs    r1, #ALL_SECTIONS
        movs    r2, #0
        movs    r3, #0
        stm     r0!, {r1, r2, r3}
        bx      lr
        .size   sensors_init, . - sensors_init

@ sensors_poll: one sample of every section. Leaf.
        .global sensors_poll
        .type   sensors_poll, %function
        .thumb_func
sensors_poll:
        push    {r4, lr}
        ldr     r0, =SENSORS_BASE
        ldr     r0, [r0]
        lsls    r0, r0, #32 - SECTION_COUNT     @ drop what is not wired
        lsrs    r0, r0, #32 - SECTION_COUNT
        ldr     r4, =track
        ldm     r4!, {r1, r2, r3}       @ state, counter bit 0, counter bit 1
        subs    r4, r4, #12
        eors    r0, r0, r1              @ r0: sample differs from state
        eors    r3, r3, r2              @ count up where it does,
        ands    r3, r3, r0              @ back to zero where not
        mvns    r2, r2
        ands    r2, r2, r0
        bics    r0, r0, r2              @ counter wrapped to zero: four in a row
        bics    r0, r0, r3
        eors    r1, r1, r0
        stm     r4!, {r1, r2, r3}
        pop     {r4, pc}
        .size   sensors_poll, . - sensors_poll

@ sensors_clear: r0 = mask of sections. Out: r0 = 1 when none is occupied,
@ else 0. Leaf.
        .global sensors_clear
        .type   sensors_clear, %function
        .thumb_func
sensors_clear:
        ldr     r1, =track
        ldr     r1, [r1]
        ands    r1, r1, r0
        movs    r0, #0
        cmp     r1, #0
        bne     1f
        movs    r0, #1
1:      bx      lr
        .ltorg
        .size   sensors_clear, . - sensors_clear

        .bss
        .balign 4
track:                                  @ state, counter bit 0, counter bit 1
        .space  12

        .end
