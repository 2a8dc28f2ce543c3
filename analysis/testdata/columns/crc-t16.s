; cpu: arm7tdmi
; Check sum of the telegrams between signal boxes (invented), old spelling.
        AREA    crc, CODE, READONLY, INTERWORK
        CODE16
        EXPORT  crc_block
        EXPORT  crc_check
        GBLA    i
        GBLA    c
crc_block ROUT
        push    {r4-r7, lr}
        mov     r4, #0xFF
        ldr     r5, =crc_table
        cmp     r1, #0
        beq     %f9
1       ldrb    r2, [r0]
        add     r0, #1
        eor     r2, r4
        lsl     r2, #2
        ldr     r4, [r5, r2]
        sub     r1, #1
        bne     %b1
9       mov     r0, r4
        pop     {r4-r7}
        pop     {r3}
        bx      r3

crc_check
        neg     r1, r0
        adc     r0, r1
        bx      lr
        nop
        ltorg
        align
crc_table
i       seta    0
        while   i < 256
c       seta    i
        while   c >= 2_100000000
c       seta    c / 2
        wend
        if      (c :and: 1) = 1
c       seta    (c :shr: 1) :eor: &8C
        else
c       seta    c :shr: 1
        endif
        dcd     c
i       seta    i + 1
        wend
        assert  . - crc_table = 1024
        end
