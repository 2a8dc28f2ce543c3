@ routes.s - the interlocking: from a request to the release of the points.
@
@ idle -> setting -> clear -> held -> idle. A route holds its sections and its
@ points from the request to the release. The signal shows proceed in one
@ state only, and is proved again every tick while it does.

        .syntax unified
        .arch   armv4t
        .include "layout.inc"
        .extern points_request, points_release, sensors_clear
        .extern signal_clear, signal_danger, report_event, route_table, fail_safe
        .extern text_refused, text_clear, text_not_set, text_lost, text_train
        .extern text_released

        .text
        .thumb

@ route_find: r0 = route number. Out: r0 = its entry in route_table, r1 = its
@ record in route_run. Leaf.
        .type   route_find, %function
        .thumb_func
route_find:
        lsls    r2, r0, #1              @ 12 n = (2 n + n) * 4
        adds    r2, r2, r0
        lsls    r2, r2, #2
        lsls    r1, r0, #RUN_SHIFT
        ldr     r0, =route_table
        adds    r0, r0, r2
        ldr     r2, =route_run
        adds    r1, r1, r2
        bx      lr
        .ltorg
        .size   route_find, . - route_find

@ route_request: r0 = route number. Locks sections and points and starts the
@ motors, or refuses. Out: r0 = 1 or 0.
        .global route_request
        .type   route_request, %function
        .thumb_func
route_request:
        push    {r3-r7, lr}
        movs    r7, r0
        cmp     r0, #ROUTE_COUNT
        bhs     request_unknown
        bl      route_find
        movs    r4, r0                  @ r4: table entry
        movs    r5, r1                  @ r5: record
        ldrb    r0, [r5, #RUN_STATE]
        cmp     r0, #STATE_IDLE
        bne     request_refused
        ldrh    r0, [r4, #RT_SECTIONS]
        bl      sensors_clear           @ no train on the way
        cmp     r0, #0
        beq     request_refused
        ldr     r6, =sections_held
        ldrh    r0, [r6]
        ldrh    r1, [r4, #RT_SECTIONS]
        tst     r0, r1                  @ no other route on the way
        bne     request_refused
        ldrb    r0, [r4, #RT_POINTS]
        ldrb    r1, [r4, #RT_WANT]
        bl      points_request          @ no other route on the points
        cmp     r0, #0
        beq     request_refused

        ldrh    r0, [r6]
        ldrh    r1, [r4, #RT_SECTIONS]
        orrs    r0, r0, r1
        strh    r0, [r6]
        movs    r0, #STATE_SETTING
        strb    r0, [r5, #RUN_STATE]
        movs    r0, #SETTING_TICKS >> 3 @ more than a byte: make it in two steps
        lsls    r0, r0, #3
        strh    r0, [r5, #RUN_TIMER]
        movs    r0, #1
        pop     {r3-r7, pc}
request_refused:
        ldr     r0, =text_refused
        ldr     r1, [r4, #RT_NAME]
        bl      report_event
request_unknown:
        movs    r0, #0
        pop     {r3-r7, pc}
        .ltorg
        .size   route_request, . - route_request

@ route_cancel: r0 = route number. The signal goes to danger at once; the
@ points stay locked long enough for a driver who did not see it.
        .global route_cancel
        .type   route_cancel, %function
        .thumb_func
route_cancel:
        push    {r4-r6, lr}
        cmp     r0, #ROUTE_COUNT
        bhs     cancel_done
        bl      route_find
        movs    r4, r0
        movs    r5, r1
        ldrb    r0, [r5, #RUN_STATE]
        cmp     r0, #STATE_SETTING
        beq     cancel_hold
        cmp     r0, #STATE_CLEAR
        bne     cancel_done
cancel_hold:
        ldrb    r0, [r4, #RT_SIGNAL]
        bl      signal_danger
        movs    r0, #STATE_HELD
        strb    r0, [r5, #RUN_STATE]
        movs    r0, #CANCEL_TICKS >> 4
        lsls    r0, r0, #4
        strh    r0, [r5, #RUN_TIMER]
cancel_done:
        pop     {r4-r6, pc}
        .size   route_cancel, . - route_cancel

@ routes_poll: one step for every route.
        .global routes_poll
        .type   routes_poll, %function
        .thumb_func
routes_poll:
        push    {r4-r6, lr}
        movs    r6, #0                  @ r6: route number
routes_each:
        movs    r0, r6
        bl      route_find
        movs    r4, r0                  @ r4: table entry
        movs    r5, r1                  @ r5: record
        ldrb    r0, [r5, #RUN_STATE]
        cmp     r0, #STATE_COUNT
        bhs     routes_broken
        lsls    r0, r0, #2
        adr     r1, state_table
        ldr     r0, [r1, r0]
        bx      r0                      @ to one of the four below

        .balign 4
state_table:                            @ bit 0 set by .thumb_func of each
        .word   state_idle
        .word   state_setting
        .word   state_clear
        .word   state_held

        .thumb_func
state_setting:
        movs    r0, r4
        bl      signal_clear            @ proves points and track first
        cmp     r0, #0
        beq     setting_waits
        movs    r0, #STATE_CLEAR
        strb    r0, [r5, #RUN_STATE]
        ldr     r0, =text_clear
        ldr     r1, [r4, #RT_NAME]
        bl      report_event
        b       state_idle
setting_waits:
        bl      run_countdown
        bne     state_idle
        ldr     r0, =text_not_set
        b       routes_hold

        .thumb_func
state_clear:
        ldrh    r0, [r4, #RT_THROAT]
        bl      sensors_clear
        cmp     r0, #0
        beq     clear_train
        movs    r0, r4
        bl      signal_clear            @ prove it again
        cmp     r0, #0
        bne     state_idle
        ldr     r0, =text_lost          @ signal_clear has set it to danger
        b       routes_hold
clear_train:
        ldrb    r0, [r4, #RT_SIGNAL]
        bl      signal_danger
        ldr     r0, =text_train
routes_hold:                            @ r0: why
        ldr     r1, [r4, #RT_NAME]
        bl      report_event
        movs    r0, #STATE_HELD
        strb    r0, [r5, #RUN_STATE]
        movs    r0, #RELEASE_TICKS
        strh    r0, [r5, #RUN_TIMER]
        b       state_idle

        .thumb_func
state_held:
        ldrh    r0, [r4, #RT_THROAT]
        bl      sensors_clear
        cmp     r0, #0
        beq     state_idle              @ time runs only off the points
        bl      run_countdown
        bne     state_idle
        movs    r0, #STATE_IDLE
        strb    r0, [r5, #RUN_STATE]
        ldr     r2, =sections_held
        ldrh    r0, [r2]
        ldrh    r1, [r4, #RT_SECTIONS]
        bics    r0, r0, r1
        strh    r0, [r2]
        ldrb    r0, [r4, #RT_POINTS]
        bl      points_release
        ldr     r0, =text_released
        ldr     r1, [r4, #RT_NAME]
        bl      report_event

        .thumb_func
state_idle:                             @ every state ends here
        adds    r6, r6, #1
        cmp     r6, #ROUTE_COUNT
        blo     routes_each
        pop     {r4-r6, pc}
routes_broken:                          @ a state that cannot be
        ldr     r0, =fail_safe
        bx      r0
        .ltorg
        .size   routes_poll, . - routes_poll

@ run_countdown: r5 = record. Takes a tick off its timer; Z is set when none
@ is left. Leaf; changes r0 only.
        .type   run_countdown, %function
        .thumb_func
run_countdown:
        ldrh    r0, [r5, #RUN_TIMER]
        subs    r0, r0, #1
        strh    r0, [r5, #RUN_TIMER]    @ a store leaves the flags alone
        bx      lr
        .size   run_countdown, . - run_countdown

        .bss
        .balign 4
route_run:
        .space  ROUTE_COUNT << RUN_SHIFT
sections_held:
        .space  2

        .end
