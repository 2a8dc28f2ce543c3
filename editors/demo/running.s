@ running.s - what assembles, and goes wrong when it runs.
@
@ Not a part of the firmware: it shows findings as findings.s does, those for
@ which the values in registers and the way of execution are followed. The
@ level crossing is invented, like the whole railway.

        .syntax unified
        .arch   armv6-m

        .equ    LAMP_PORT,      0x40020000

@ --- 1. Addresses ------------------------------------------------------------
@ ARMv6-M faults on each access that is misaligned, and has no A32 state.

        .section .vectors, "a", %progbits
        .balign 4
        .word   0x20001000
        .word   crossing_reset                  @ marked as a function below
        .word   crossing_fault                  @ expect: state-bit

        .section .text.crossing, "ax", %progbits
        .thumb
        .balign 4
        .global crossing_reset
        .thumb_func
crossing_reset:
        ldr     r0, =LAMP_PORT
        adds    r0, #0x12
        ldrh    r1, [r0]
        ldr     r1, [r0]                        @ expect: misaligned-access
        bl      crossing_open
        ldr     r1, =0x08000400                 @ the next program
        bx      r1                              @ expect: state-bit
crossing_fault:
        b       crossing_fault

@ --- 2. Calls and the stack --------------------------------------------------
@ A call changes lr, and may change r0 to r3, r12 and the flags.

        .global crossing_open
        .thumb_func
crossing_open:
        movs    r0, #1
        bl      crossing_lamp
        bx      lr                              @ expect: return-address-lost

        .global crossing_close
        .thumb_func
crossing_close:
        push    {r4, lr}
        sub     sp, #8
        movs    r3, #10
        bl      crossing_lamp
        subs    r0, r0, r3                      @ expect: changed-by-call
        str     r0, [sp]
        pop     {r4, pc}                        @ expect: stack-balance

        .global crossing_count
        .thumb_func
crossing_count:
        ldr     r4, [r0]
        adds    r4, #1
        str     r4, [r0]
        bx      lr                              @ expect: register-not-restored

@ --- 3. Flags ----------------------------------------------------------------
@ Most 16-bit operations set the flags.

        .global crossing_wait
        .thumb_func
crossing_wait:
        cmp     r0, #10                         @ expect: compare-unused
        adds    r1, r1, r0
        beq     1f
        cmp     r1, #10
        lsls    r2, r1, #2
        bgt     1f                              @ expect: flags-of-two-lines
        movs    r0, r2
1:      movs    r1, #1
        tst     r1, r1
        beq     2f                              @ expect: condition-known
        adds    r0, r0, r1
2:      bx      lr

@ --- 4. Lines without use ----------------------------------------------------

        .global crossing_clear
        .thumb_func
crossing_clear:
        uxth    r1, r0                          @ expect: value-unused
        movs    r1, #0
        str     r1, [r0]
        bx      lr
        str     r1, [r0, #4]                    @ expect: never-reached
        bx      lr

        .global crossing_aspect
        .thumb_func
crossing_aspect:
        ldr     r1, =crossing_aspects
        ldrb    r0, [r1, r0]
crossing_aspects:
        .byte   1, 2, 4, 8                      @ expect: runs-out-of-code
        .balign 4

        .extern crossing_lamp

@ --- 5. Before anything is there ---------------------------------------------

        .global crossing_gate
        .thumb_func
crossing_gate:
        push    {r7, lr}
        sub     sp, #12
        str     r0, [sp]
        ldr     r0, [sp, #4]                    @ expect: read-before-set
        bl      crossing_lamp                   @ expect: stack-alignment
        beq     2f                              @ expect: changed-by-call
        ldr     r1, =crossing_angle
        strb    r0, [r1]                        @ expect: store-read-only
2:      add     sp, #12
        pop     {r7, pc}

        .global crossing_bell
        .thumb_func
crossing_bell:
        bcs     1f                              @ expect: flags-unset
        movs    r0, #0
1:      bx      lr

        .section .rodata.crossing, "a", %progbits
crossing_angle:
        .byte   90

@ --- 6. Conditions -----------------------------------------------------------

        .section .text.crossing
        .global crossing_train
        .thumb_func
crossing_train:
        ldrb    r1, [r0]
        adds    r2, r2, r1
        cmp     r3, #8
        bne     crossing_train                  @ expect: loop-without-end
        cmp     r2, #0
        beq     3f                              @ expect: condition-without-effect
3:      bx      lr

@ --- 7. Two states -----------------------------------------------------------
@ The old crossing has a core of ARMv4T, on which BX alone changes the state.

        .section .text.old, "ax", %progbits
        .arch   armv4t
        .arm
        .global old_crossing
        .type   old_crossing, %function
old_crossing:
        stmfd   sp!, {r4, lr}
        bl      old_bell
        mov     lr, pc
        mov     r0, #1
        bx      r4                              @ expect: return-address-made
        ldmfd   sp!, {r4, lr}
        bx      lr

        .thumb
        .thumb_func
old_bell:
        push    {r4, lr}
        movs    r0, #0
        pop     {r4, pc}                        @ expect: state-not-changed
