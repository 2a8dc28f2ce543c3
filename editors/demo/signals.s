@ signals.s - colour-light signals and the proof of their lamps (T16).

        .syntax unified
        .arch   armv4t
        .include "layout.inc"
        .extern points_check, sensors_clear, report_number, text_lamp

        .text
        .thumb

@ signals_init: every signal to danger.
        .global signals_init
        .type   signals_init, %function
        .thumb_func
signals_init:
        push    {r4, lr}
        movs    r4, #SIGNAL_COUNT
init_each:
        subs    r4, r4, #1
        movs    r0, r4
        bl      signal_danger
        cmp     r4, #0
        bne     init_each
        pop     {r4, pc}
        .size   signals_init, . - signals_init

@ signal_danger: r0 = signal number. Falls into signal_set.
        .global signal_danger
        .type   signal_danger, %function
        .thumb_func
signal_danger:
        movs    r1, #RED

@ signal_set: r0 = signal number, r1 = lamps. Leaf. Not global: proceed is
@ shown only through signal_clear.
        .type   signal_set, %function
        .thumb_func
signal_set:
        ldr     r2, =signal_lamps
        strb    r1, [r2, r0]
        ldr     r2, =SIGNALS_BASE
        lsls    r0, r0, #2
        str     r1, [r2, r0]
        bx      lr
        .size   signal_set, . - signal_set

@ signal_clear: r0 = entry of a route. Shows its aspect when its points are
@ set and detected and its sections are clear, and danger otherwise.
@ Out: r0 = 1 when it shows proceed.
        .global signal_clear
        .type   signal_clear, %function
        .thumb_func
signal_clear:
        push    {r4, lr}
        movs    r4, r0
        ldrb    r0, [r4, #RT_POINTS]
        ldrb    r1, [r4, #RT_WANT]
        bl      points_check
        cmp     r0, #0
        beq     clear_refused
        ldrh    r0, [r4, #RT_SECTIONS]
        bl      sensors_clear
        cmp     r0, #0
        beq     clear_refused
        ldr     r1, =signal_failed
        ldrb    r1, [r1]
        ldrb    r0, [r4, #RT_SIGNAL]
        adds    r2, r0, #1
        lsrs    r1, r1, r2              @ carry: its lamp has failed
        bcs     clear_refused
        ldrb    r1, [r4, #RT_ASPECT]
        bl      signal_set
        movs    r0, #1
        pop     {r4, pc}
clear_refused:
        ldrb    r0, [r4, #RT_SIGNAL]
        bl      signal_danger
        movs    r0, #0
        pop     {r4, pc}
        .ltorg
        .size   signal_clear, . - signal_clear

@ signals_poll: a lamp that should be lit and draws no current for
@ LAMP_TICKS makes its signal fail: danger, for good, and a report.
        .global signals_poll
        .type   signals_poll, %function
        .thumb_func
signals_poll:
        push    {r3-r7, lr}
        movs    r4, #0                  @ r4: signal number
        ldr     r5, =SIGNALS_BASE
        adds    r5, r5, #SIGNALS_PROOF  @ r5: proof of its lamps
        ldr     r6, =signal_lamps
        ldr     r7, =signal_dark
lamp_each:
        ldm     r5!, {r1}               @ the proof; r5 to the next
        ldrb    r2, [r6, r4]
        movs    r0, #0
        cmp     r1, r2
        beq     lamp_count              @ right: count from zero again
        ldrb    r0, [r7, r4]
        adds    r0, r0, #1
        cmp     r0, #LAMP_TICKS
        bhi     lamp_next               @ was reported before
        bne     lamp_count
        strb    r0, [r7, r4]
        ldr     r3, =signal_failed
        ldrb    r1, [r3]
        movs    r2, #1
        lsls    r2, r2, r4
        orrs    r1, r1, r2
        strb    r1, [r3]
        movs    r0, r4
        bl      signal_danger
        ldr     r0, =text_lamp
        movs    r1, r4
        bl      report_number
        b       lamp_next
lamp_count:
        strb    r0, [r7, r4]
lamp_next:
        adds    r4, r4, #1
        cmp     r4, #SIGNAL_COUNT
        blo     lamp_each
        pop     {r3-r7, pc}
        .ltorg
        .size   signals_poll, . - signals_poll

        .bss
signal_lamps:                           @ byte a signal: lamps lit
        .space  SIGNAL_COUNT
signal_dark:                            @ byte a signal: ticks unproved
        .space  SIGNAL_COUNT
signal_failed:                          @ bit a signal
        .space  1

        .end
