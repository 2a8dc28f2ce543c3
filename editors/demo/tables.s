@ tables.s - the routes of the junction and the texts (data only; invented).

        .syntax unified
        .arch   armv4t
        .include "layout.inc"

        .section .rodata
        .balign 4
        .global route_table
        .type   route_table, %object
route_table:
@       points, reverse, signal, lamps; sections, over the points; name
        .byte   P0, 0, 0, GREEN                 @ 0: west to platform 1
        .hword  T1 | T2, T1
        .word   name_0
        .byte   P0 | P2, P0, 0, YELLOW          @ 1: west to platform 2
        .hword  T1 | T7 | T3, T1 | T7
        .word   name_1
        .byte   P1, 0, 1, GREEN                 @ 2: platform 1 to east
        .hword  T4 | T5, T4
        .word   name_2
        .byte   P1, P1, 2, YELLOW               @ 3: platform 2 to east
        .hword  T4 | T5, T4
        .word   name_3
        .byte   P2, P2, 3, YELLOW               @ 4: siding to platform 2
        .hword  T7 | T3, T7
        .word   name_4
        .size   route_table, . - route_table

name_0: .asciz  "west to platform 1"
name_1: .asciz  "west to platform 2"
name_2: .asciz  "platform 1 to east"
name_3: .asciz  "platform 2 to east"
name_4: .asciz  "siding to platform 2"

        .global text_banner, text_refused, text_clear, text_not_set, text_lost
        .global text_train, text_released, text_point_late, text_lamp
text_banner:
        .ascii  "signal box ready; "
        .asciz  "all signals at danger"
text_refused:           .asciz  "refused: "
text_clear:             .asciz  "clear: "
text_not_set:           .asciz  "points did not prove: "
text_lost:              .asciz  "proof lost, back to danger: "
text_train:             .asciz  "train in: "
text_released:          .asciz  "released: "
text_point_late:        .asciz  "motor gave up: point "
text_lamp:              .asciz  "lamp failed: signal "

        .end
