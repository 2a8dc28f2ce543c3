@ report.s - what happened, in words, on the serial line (T16).
@
@ The text goes through a ring of 256 bytes, so that the interlocking never
@ waits for the line. A full ring drops what comes.

        .syntax unified
        .arch   armv4t
        .include "layout.inc"

        .text
        .thumb

@ report_put: r0 = byte. Puts it into the ring. Leaf; keeps r3.
        .type   report_put, %function
        .thumb_func
report_put:
        push    {r4, lr}
        ldr     r1, =ring_head
        ldrb    r2, [r1]
        ldr     r4, =ring
        strb    r0, [r4, r2]
        adds    r2, r2, #1
        lsls    r2, r2, #24             @ modulo 256
        lsrs    r2, r2, #24
        ldr     r4, =ring_tail
        ldrb    r4, [r4]
        cmp     r2, r4
        beq     put_full
        strb    r2, [r1]
put_full:
        pop     {r4, pc}
        .size   report_put, . - report_put

@ report_text: r0 = address of a text that ends with a zero byte.
        .type   report_text, %function
        .thumb_func
report_text:
        push    {r4, lr}
        movs    r4, r0
text_next:
        ldrb    r0, [r4]
        cmp     r0, #0
        beq     text_done
        bl      report_put
        adds    r4, r4, #1
        b       text_next
text_done:
        pop     {r4, pc}
        .size   report_text, . - report_text

@ report_line: r0 = text. Text and end of line.
        .global report_line
        .type   report_line, %function
        .thumb_func
report_line:
        push    {r4, lr}
        bl      report_text
        movs    r0, #'\r'
        bl      report_put
        movs    r0, #'\n'
        bl      report_put
        pop     {r4, pc}
        .size   report_line, . - report_line

@ report_event: r0 = what happened, r1 = text of where.
        .global report_event
        .type   report_event, %function
        .thumb_func
report_event:
        push    {r4, lr}
        movs    r4, r1
        bl      report_text
        movs    r0, r4
        bl      report_line
        pop     {r4, pc}
        .size   report_event, . - report_event

@ report_number: r0 = what happened, r1 = number from 0 to 99.
        .global report_number
        .type   report_number, %function
        .thumb_func
report_number:
        push    {r4-r6, lr}
        movs    r4, r1
        bl      report_text
        movs    r5, #'0'                @ r5: digit of the tens
tens:
        subs    r4, r4, #10
        blo     tens_done
        adds    r5, r5, #1
        b       tens
tens_done:
        movs    r0, r5
        bl      report_put
        movs    r0, r4
        adds    r0, r0, #10 + '0'
        bl      report_put
        adr     r0, text_empty
        bl      report_line
        pop     {r4-r6, pc}
        .balign 4
text_empty:
        .byte   0
        .balign 4
        .ltorg
        .size   report_number, . - report_number

@ serial_poll: sends the next byte when the line takes one. Leaf.
        .global serial_poll
        .type   serial_poll, %function
        .thumb_func
serial_poll:
        ldr     r0, =ring_tail
        ldrb    r1, [r0]
        ldr     r2, =ring_head
        ldrb    r2, [r2]
        cmp     r1, r2
        beq     serial_done             @ nothing to say
        ldr     r3, =SERIAL_BASE
        ldr     r2, [r3, #SERIAL_STATUS]
        lsrs    r2, r2, #SERIAL_READY + 1       @ carry: ready
        bcc     serial_done
        ldr     r2, =ring
        ldrb    r2, [r2, r1]
        str     r2, [r3, #SERIAL_DATA]
        adds    r1, r1, #1
        strb    r1, [r0]                @ a byte: wraps by itself
        b       serial_poll
serial_done:
        bx      lr
        .ltorg
        .size   serial_poll, . - serial_poll

        .bss
ring:
        .space  256
ring_head:                              @ where the next byte goes in
        .space  1
ring_tail:                              @ where the next byte comes out
        .space  1

        .end
