@ A first look at narrowgauge: throws the points of a model railway's signal
@ box, with three slips in it. Invented.
@
@       narrowgauge check editors/first.s
@       narrowgauge fix --diff editors/first.s

        .syntax unified
        .cpu    cortex-m0
        .thumb

        .equ    POINTS, 0x1234          @ all points of the station

        .global throw_points
        .thumb_func
throw_points:
        movs    r0, #POINTS             @ nine bits and more: no such move
        ldr     r1, =0x40021000         @ their driver
        str     r0, [r1, #128]          @ 124 is as far as it goes
        add     r2, r0, #1              @ in T16 this sets the flags
        cmp     r2, r0
        bx      lr
