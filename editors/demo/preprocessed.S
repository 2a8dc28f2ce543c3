/* What the preprocessor refuses. This file shows findings as findings.s does;
 * it is no part of the firmware. Data invented. */
#define POINTS  6
#if POINTS > 4 &&                       /* @ expect: preprocessor */
        .word   1
#endif
        .arch   armv4t
        .syntax unified
        .thumb
        .text
set_points:
        movs    r0, #(POINTS * 50)      /* @ expect: constant-range */
        bx      lr

/* What is not found may define any name: no name is called unknown. */
        .include "lost.inc"             /* @ expect: include-missing */
        bl      lost_routine

/* Nor is it where expansions come to more than is read. */
        .section .rodata.lamps, "a", %progbits
        .rept   600000                  /* @ expect: macro-size */
        .byte   POINTS
        .endr
