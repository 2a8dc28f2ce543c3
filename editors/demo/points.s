@ points.s - point motors, detection and locks (T16).
@
@ A point is moved until its blades are detected where they should be, or
@ until its motor has had its time. Detection is read from the blades
@ themselves; where a point was sent proves nothing.

        .syntax unified
        .arch   armv4t
        .include "layout.inc"
        .extern report_number, text_point_late

        .equ    PT_TARGET,      0       @ byte: 0 normal, 1 reverse
        .equ    PT_MOVING,      1       @ byte: motor wanted
        .equ    PT_TIMER,       2       @ half-word: ticks left
        .equ    PT_SIZE,        4

        .text
        .thumb

@ points_request: r0 = mask of points, r1 = mask of those that go reverse.
@ Locks and moves them all, or none when one is locked. Out: r0 = 1 or 0.
@ Leaf.
        .global points_request
        .type   points_request, %function
        .thumb_func
points_request:
        ldr     r2, =points_locked
        ldrb    r3, [r2]
        tst     r3, r0
        bne     request_locked
        orrs    r3, r3, r0
        strb    r3, [r2]
        ldr     r3, =point_run
request_each:
        lsrs    r0, r0, #1              @ carry: this point is wanted
        bcc     request_skip
        movs    r2, #1
        ands    r2, r2, r1
        strb    r2, [r3, #PT_TARGET]
        movs    r2, #1
        strb    r2, [r3, #PT_MOVING]
        movs    r2, #POINT_TICKS
        strh    r2, [r3, #PT_TIMER]
request_skip:
        lsrs    r1, r1, #1
        adds    r3, r3, #PT_SIZE
        cmp     r0, #0
        bne     request_each
        movs    r0, #1
        bx      lr
request_locked:
        movs    r0, #0
        bx      lr
        .size   points_request, . - points_request

@ points_release: r0 = mask of points that may move again. Leaf.
        .global points_release
        .type   points_release, %function
        .thumb_func
points_release:
        ldr     r1, =points_locked
        ldrb    r2, [r1]
        bics    r2, r2, r0
        strb    r2, [r1]
        bx      lr
        .size   points_release, . - points_release

@ points_check: r0 = mask of points, r1 = mask of those that should lie
@ reverse. Out: r0 = 1 when every one is detected there, else 0. Leaf.
        .global points_check
        .type   points_check, %function
        .thumb_func
points_check:
        ldr     r2, =POINTS_BASE
        ldr     r2, [r2, #POINTS_DETECT]
check_each:
        lsrs    r0, r0, #1              @ carry: this point counts
        bcc     check_skip
        movs    r3, #1                  @ 1 for normal, 2 for reverse;
        ands    r3, r3, r1              @ 0 and 3 mean a blade between, or a
        adds    r3, r3, #1              @ broken wire
        eors    r3, r3, r2
        lsls    r3, r3, #30             @ only its own two bits
        bne     check_failed
check_skip:
        lsrs    r1, r1, #1
        lsrs    r2, r2, #2
        cmp     r0, #0
        bne     check_each
        movs    r0, #1
        bx      lr
check_failed:
        movs    r0, #0
        bx      lr
        .ltorg
        .size   points_check, . - points_check

@ points_poll: drives the motors of the points that are not there yet.
        .global points_poll
        .type   points_poll, %function
        .thumb_func
points_poll:
        push    {r4-r6, lr}
        ldr     r4, =point_run
        movs    r5, #0                  @ r5: point number
        movs    r6, #0                  @ r6: coils to drive
poll_each:
        ldrb    r0, [r4, #PT_MOVING]
        cmp     r0, #0
        beq     poll_next
        movs    r0, #1
        lsls    r0, r0, r5
        ldrb    r1, [r4, #PT_TARGET]
        lsls    r1, r1, r5
        bl      points_check
        cmp     r0, #0
        bne     poll_stop
        ldrh    r0, [r4, #PT_TIMER]
        subs    r0, r0, #1
        strh    r0, [r4, #PT_TIMER]
        beq     poll_late
        lsls    r0, r5, #1              @ coil 2 n, or 2 n + 1 for reverse
        ldrb    r1, [r4, #PT_TARGET]
        adds    r0, r0, r1
        movs    r1, #1
        lsls    r1, r1, r0
        orrs    r6, r6, r1
        b       poll_next
poll_late:
        ldr     r0, =text_point_late
        movs    r1, r5
        bl      report_number
poll_stop:
        movs    r0, #0
        strb    r0, [r4, #PT_MOVING]
poll_next:
        adds    r4, r4, #PT_SIZE
        adds    r5, r5, #1
        cmp     r5, #POINT_COUNT
        blo     poll_each
        ldr     r0, =POINTS_BASE
        str     r6, [r0, #POINTS_DRIVE]
        pop     {r4-r6, pc}
        .ltorg
        .size   points_poll, . - points_poll

        .bss
        .balign 4
point_run:
        .space  POINT_COUNT * PT_SIZE
points_locked:
        .space  1

        .end
