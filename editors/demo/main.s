@ main.s - the main loop and the signaller's panel (T16).
@
@ Once a tick: read the track, read the panel, move points, advance the
@ routes, prove the lamps. Nothing in the loop waits except for the tick.
@
@ All files call as the AAPCS says. Some functions push one register more than
@ they need, which keeps the stack a multiple of eight.

        .syntax unified
        .arch   armv4t
        .include "layout.inc"
        .extern signals_init, signals_poll, sensors_init, sensors_poll
        .extern timing_init, ticks_now, wait_tick, points_poll
        .extern route_request, route_cancel, routes_poll
        .extern report_line, serial_poll, text_banner, fail_safe

        .equ    GUARD_VALUE,    0x51677a11

        .text
        .thumb
        .global main
        .type   main, %function
        .thumb_func
main:
        bl      signals_init            @ danger first, then everything else
        bl      sensors_init
        bl      timing_init
        ldr     r0, =text_banner
        bl      report_line
        bl      ticks_now
        movs    r4, r0                  @ r4: the tick last seen
main_loop:
        movs    r0, r4
        bl      wait_tick
        movs    r4, r0
        bl      sensors_poll
        bl      panel_poll
        bl      points_poll
        bl      routes_poll
        bl      signals_poll
        bl      serial_poll
        ldr     r0, =stack_guard        @ a stack that grew over its end
        ldr     r0, [r0]
        ldr     r1, =GUARD_VALUE
        cmp     r0, r1
        beq     main_loop
        ldr     r0, =fail_safe          @ bit 0 is clear: bx goes to A32
        bx      r0
        .ltorg
        .size   main, . - main

@ panel_poll: a button that was up and is down asks for, or cancels, a route.
        .type   panel_poll, %function
        .thumb_func
panel_poll:
        push    {r4-r6, lr}
        ldr     r0, =PANEL_BASE
        ldr     r4, [r0]
        lsls    r4, r4, #16             @ two rows of eight buttons
        lsrs    r4, r4, #16
        ldr     r0, =panel_before
        ldr     r1, [r0]
        str     r4, [r0]
        bics    r4, r4, r1              @ r4: buttons that went down
        movs    r5, #0                  @ r5: number of the button
panel_next:
        lsrs    r4, r4, #1              @ carry: this button
        bcc     panel_skip
        movs    r0, r5
        cmp     r0, #PANEL_CANCEL
        bhs     panel_cancel
        bl      route_request
        b       panel_skip
panel_cancel:
        subs    r0, r0, #PANEL_CANCEL
        bl      route_cancel
panel_skip:
        adds    r5, r5, #1
        cmp     r4, #0
        bne     panel_next
        pop     {r4-r6, pc}
        .ltorg
        .size   panel_poll, . - panel_poll

        .section .guard, "aw", %progbits        @ right below the stack
        .balign 4
stack_guard:
        .word   GUARD_VALUE

        .bss
        .balign 4
panel_before:
        .space  4

        .end
