@ crossing.s - bells and lamps of a level crossing (invented). Its mistakes
@ are deliberate: the pictures show what the server says about them.

        .syntax unified
        .arch   armv4t
        .include "layout.inc"
        .extern sensors_clear

        .equ    BELLS,  0
        .equ    HOOK,   4
        .equ    LAMPS,  132

        .text
        .thumb
        .global crossing_poll
        .thumb_func
crossing_poll:
        push    {r4, r8, lr}
        ldr     r4, =crossing
        movs    r0, #T1 | T4
        bl      sensors_clear           @ nobody near?
        cmp     r0, #0
        bne     crossing_idle
        movs    r1, #300                @ bells for 3 s
        str     r1, [r4, #BELLS]
        ldr     r0, [r4, #LAMPS]        @ lamps in turn
        mvns    r0, r0
        add     r0, r0, #1
crossing_idle:
        ldr     r3, [r4, #HOOK]
        blx     r3                      @ whoever wants to know
        pop     {r4, r8, pc}
        .ltorg

        .bss
        .balign 4
crossing:
        .space  136
        .end
