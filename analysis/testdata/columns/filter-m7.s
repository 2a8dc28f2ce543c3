; cpu: cortex-m7
; fpu: fpv5-d16
; Smoothing of the track sensors' values (invented): floating point.
        AREA    |i.filter|, CODE, READONLY, ALIGN=2
        THUMB
        PRESERVE8
        EXPORT  filter
input   RN      0
n       RN      1
sum     SN      s0
value   SN      1
factor  SN      S2
wide    DN      4
wide2   DN      D5
filter  PROC
        PUSH    {r4-r7, lr}
        VLDR    sum, =0.0
        VLDR    factor, =0.125
        VLDR.F64 wide, one
        VMOV.F64 wide2, wide
        CMP     n, #0
        BEQ     %FT9
1       VLDM    input!, {value}
        VMLA.F32 sum, \
                value, \
                factor
        SUBS    n, n, #1
        BGT     %BT1
9       VMOV    r0, sum
        POP     {r4-r7, \
                 pc}
        ENDP
        MOV32   r1, filter
        MOV32NE r2, #0x12345678
        VMRS    APSR_nzcv, FPSCR
        ALIGN   8
one     DCFD    1.0
half    DCFS    0.5, 1E3, 1.5e-2
big     DCFSU   -2
        LTORG
        AREA    state, DATA, READWRITE
last    DCD     0
        COMMON  shared, 16, 8
        COMMON  plain, 4
        END
