@ findings.s - what T16 cannot do, and what it does that nobody wants.
@
@ Not a part of the firmware: it is here to be read, and to be checked by
@
@       narrowgauge check editors/demo/findings.s
@
@ A line with a finding names its check; "narrowgauge explain" with
@ that name has the rest. No other line has a finding: what is next to it
@ works. The level crossing is invented, like the whole railway.

        .syntax unified
        .arch   armv4t

        .equ    BELL_TICKS,     300             @ 3 s
        .equ    LAMP_BITS,      0x30
        .equ    BELL,           0               @ offsets in the crossing's record
        .equ    GATE,           6
        .equ    LAMPS,          128

@ --- 1. Constants ----------------------------------------------------------
@ Sixteen bits hold an operation, a register or two, and little more. What is
@ left for a constant has no sign, and counts in units of what is accessed.

        .section .text.constants, "ax", %progbits
        .thumb
        .global crossing_ring
        .thumb_func
crossing_ring:
        push    {r4, lr}
        @ MOVS and CMP: 8 bits, 0-255.
        movs    r0, #BELL_TICKS                 @ expect: constant-range
        ldr     r0, =BELL_TICKS                 @ a word of the literal pool does it
        movs    r1, #-5                         @ expect: constant-negative
        movs    r1, #5                          @ and here two instructions
        rsbs    r1, r1, #0
        cmp     r1, #-5                         @ expect: constant-negative
        @ ADDS and SUBS: 8 bits with two operands, 3 bits with three.
        adds    r2, #255
        adds    r2, #256                        @ expect: constant-range
        adds    r2, r1, #7
        adds    r2, r1, #8                      @ expect: constant-range
        @ Shifts: 5 bits. To the right, 0 means 32.
        lsrs    r2, r2, #32
        lsls    r2, r2, #32                     @ expect: constant-range
        @ Offsets: 5 bits, in words, halfwords or bytes.
        ldr     r3, [r0, #124]
        ldr     r3, [r0, #LAMPS]                @ expect: constant-range
        ldr     r3, [r0, #GATE]                 @ expect: constant-step
        ldrh    r3, [r0, #GATE]
        ldrh    r3, [r0, #64]                   @ expect: constant-range
        ldrb    r3, [r0, #31]
        ldrb    r3, [r0, #32]                   @ expect: constant-range
        ldr     r3, [r0, #-4]                   @ expect: constant-negative
        @ The stack counts in words: 8 bits to access it, 7 bits to move SP.
        str     r3, [sp, #1020]
        str     r3, [sp, #1024]                 @ expect: constant-range
        sub     sp, #508
        sub     sp, #512                        @ expect: constant-range
        add     sp, #6                          @ expect: constant-step
        add     r3, sp, #1020
        add     r3, sp, #1010                   @ expect: constant-step
        @ SVC: 8 bits.
        svc     #256                            @ expect: constant-range
        pop     {r4, pc}

@ --- 2. Registers ----------------------------------------------------------
@ Three bits name a register: r0-r7. MOV, ADD, CMP and BX reach the others.

        .section .text.registers, "ax", %progbits
        .thumb
        .thumb_func
crossing_count:
        mov     r8, r0
        add     r8, r8, r0
        cmp     r8, r0
        adds    r8, r8, #1                      @ expect: low-registers
        subs    r0, r0, r9                      @ expect: low-registers
        movs    r9, #1                          @ expect: low-registers
        lsls    r1, r8, #2                      @ expect: low-registers
        ldr     r0, [r8]                        @ expect: low-registers
        str     r10, [r0, #BELL]                @ expect: low-registers
        ldr     r0, [sp, #4]                    @ words only:
        ldrb    r0, [sp, #4]                    @ expect: low-registers
        @ Lists: r0-r7, and LR to push or PC to pop.
        push    {r4, r8}                        @ expect: register-list
        push    {r4, pc}                        @ expect: register-list
        pop     {r4, lr}                        @ expect: register-list
        stmia   r0!, {r1, r9}                   @ expect: register-list
        @ The base in its own list is stored right only as the lowest one.
        stmia   r0!, {r0, r1}
        stmia   r1!, {r0, r1}                   @ expect: base-in-list
        bx      lr

@ --- 3. Forms --------------------------------------------------------------
@ The name is there, the form with these operands is not.

        .section .text.forms, "ax", %progbits
        .thumb
        .thumb_func
crossing_lamps:
        @ Bitwise operations: two registers, and the first of them changes.
        ands    r0, r0, r1
        ands    r0, r2, r1                      @ expect: no-such-form
        orrs    r0, r0, #LAMP_BITS              @ expect: no-such-form
        mvns    r0, #LAMP_BITS                  @ expect: no-such-form
        tst     r0, #1                          @ expect: no-such-form
        @ No shift on the way, no access that moves its base on.
        adds    r0, r1, r2, lsl #2              @ expect: no-such-form
        ldr     r0, [r1, r2, lsl #2]            @ expect: no-such-form
        ldr     r0, [r1], #4                    @ expect: no-such-form
        ldr     r0, [r1, #4]!                   @ expect: no-such-form
        ldmia   r1!, {r0}                       @ but LDM and STM do
        @ Signed loads: with a register as offset, never with a constant.
        ldrsb   r0, [r1, r2]
        ldrsb   r0, [r1, #1]                    @ expect: no-such-form
        @ Conditions only on branches; no long multiplication.
        addeq   r0, r0, r1                      @ expect: no-such-form
        umull   r0, r1, r2, r3                  @ expect: no-such-form
        @ On low registers flags are set, and the s says so; on high ones they
        @ are kept.
        add     r0, r1, #1                      @ expect: flags-form
        mov     r0, #1                          @ expect: flags-form
        adds    r0, r0, r8                      @ expect: flags-form
        add     r0, r0, r8
        @ The older, divided syntax has no s.
        .syntax divided
        add     r0, r1, r2
        adds    r0, r1, r2                      @ expect: flags-form
        .syntax unified
        bx      lr

@ --- 4. Literals -----------------------------------------------------------
@ LDR and ADR count words from PC, which is 4 ahead, rounded down: 0-1020.

        .section .text.literals, "ax", %progbits
        .thumb
        .balign 4
gate_limits:
        .word   0, 90
        .thumb_func
crossing_gate:
        ldr     r0, gate_limits                 @ expect: literal-behind
        ldr     r0, gate_speed
        adr     r1, gate_name                   @ expect: literal-alignment
        adr     r1, gate_table                  @ expect: literal-reach
        ldr     r2, =0x12345678                 @ expect: literal-reach
        bx      lr                              @ a .ltorg after it would help
        .balign 4
gate_speed:
        .word   15
        .byte   0
gate_name:
        .asciz  "gate 1"
        .balign 4
        .space  1024
gate_table:
        .word   1, 2, 4, 8

@ --- 5. Branches -----------------------------------------------------------
@ B<cond> goes 252 bytes back and 258 ahead of itself, B 2044 and 2050. BL is
@ two halfwords, and goes 4 MB.

        .section .text.branches, "ax", %progbits
        .thumb
        .thumb_func
crossing_wait:
        cmp     r0, #0
        beq     crossing_far                    @ expect: branch-reach
        bne     1f                              @ around a branch that goes further
        b       crossing_far
1:
        b       crossing_end                    @ expect: branch-reach
        b       crossing_near + 1               @ expect: branch-odd
crossing_near:
        bx      lr
        .space  300
crossing_far:
        bx      lr
        .space  2000
crossing_end:
        bx      lr

@ --- 6. Architectures ------------------------------------------------------
@ ARMv5T brought BLX, ARMv6 the extensions and reversals.

        .section .text.architectures, "ax", %progbits
        .thumb
        .thumb_func
crossing_clock:
        blx     r3                              @ expect: not-on-architecture
        rev     r0, r0                          @ expect: not-on-architecture
        uxtb    r0, r0                          @ expect: not-on-architecture
        cpsid   i                               @ expect: not-on-architecture
        .arch   armv6
        rev     r0, r0
        .arch   armv4t
        bx      lr

@ --- 7. State --------------------------------------------------------------
@ BX takes the state from bit 0: set for T16, clear for A32. The address of a
@ label has it only where the label is marked as a function.

        .section .text.state, "ax", %progbits
        .thumb
        .thumb_func
crossing_safe:
        ldr     r0, =crossing_safe              @ marked
        bx      r0
crossing_again:
        ldr     r0, =crossing_plain             @ expect: state-bit
        bx      r0
crossing_back:
        ldr     r0, =crossing_a32 + 1           @ expect: state-bit
        bx      r0
crossing_plain:
        b       crossing_a32                    @ expect: mode-mismatch
        .arm
crossing_a32:
        mov     r0, #0
        .thumb
        movs    r0, #0                          @ expect: mode-mismatch
        @ The manual's unpredictable or deprecated operands assemble, too.
        add     pc, r1                          @ expect: unpredictable

@ --- 8. Pools --------------------------------------------------------------
@ A pool is data: it belongs where execution never comes.

        .section .text.pools, "ax", %progbits
        .thumb
        .thumb_func
crossing_bell:
        ldr     r0, =0x40070000
        .ltorg                                  @ expect: pool-in-path
        ldr     r1, [r0, #BELL]
        bx      lr

@ --- 9. Data ---------------------------------------------------------------
@ It assembles, and is another value or in another place than it seems.

        .section .rodata.crossing, "a", %progbits
bell_times:
        .byte   50, 200, BELL_TICKS             @ expect: data-range
bell_total:
        .word   550                             @ expect: data-alignment
        .hword  70000                           @ expect: data-range
        .balign 3                               @ expect: directive-argument

        .section .text.data, "ax", %progbits
        .thumb
        .byte   1
crossing_odd:
        nop                                     @ expect: code-alignment
        bx      lr

@ --- 10. Names and files ---------------------------------------------------
@ A constant has to be known here; an address may come from the linker.

        .section .text.names, "ax", %progbits
        .thumb
        .thumb_func
crossing_names:
        mvoe    r0, r1                          @ expect: unknown-mnemonic
        .algin  2                               @ expect: unknown-directive
        movs    r0, #GATE_OPEN                  @ expect: undefined-symbol
        bl      signal_danger                   @ expect: external-symbol
        ldr     r0, [r1                         @ expect: syntax
crossing_odd:                                   @ expect: duplicate-symbol
        bx      lr

@ --- 11. IT blocks ---------------------------------------------------------
@ On later cores a condition must be in a block that an IT line opens.

        .arch   armv7-a
        .section .text.blocks, "ax", %progbits
        .thumb
        .thumb_func
crossing_blocks:
        cmp     r0, #3
        moveq   r1, r2                          @ expect: it-block
        ite     eq
        moveq   r1, r2
        mov     r1, r3                          @ expect: it-block

@ --- 12. Findings that are allowed -------------------------------------------
@ A comment takes a finding out; where there is none, the comment is one.

        .section .rodata.allowed, "a", %progbits
        .byte   1
allowed_word:
        .word   2       @ narrowgauge: allow data-alignment -- it is sent byte by byte
        .byte   3       @ narrowgauge: allow data-alignment -- @ expect: allow-comment

@ --- 13. Macros --------------------------------------------------------------
@ A finding in what a macro makes is shown at its call, with the line of the
@ definition beside it.

        .section .rodata.macros, "a", %progbits
        .macro  lamp port, colour=1
        .byte   \port, \colour
        .endm
        .macro  lamps count
        lamp    \count
        lamps   \count-1
        .endm
        .macro  lamp                            @ expect: macro-definition
        .endm
        lamp    1, 2, 3                         @ expect: macro-argument
        lamp    1, colour=2
        lamps   3                               @ expect: macro-depth

        .end
