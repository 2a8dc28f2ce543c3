;-----------------------------------------------------------------------------
; Track sensors of the signal box: debounce in steps. Invented.
;-----------------------------------------------------------------------------
        NAME    sensors
        PUBLIC  sens_init, sens_scan
        PUBLIC  sens?state
        EXTERN  port_read

#define SENSORS 8
#if SENSORS > 4
STEP    SET     2
#else
STEP    SET     1
#endif

COUNT   DEFINE  16
MASK    EQU     0FFh
BITS    EQU     1010b
OCTAL   EQU     17q
QUOTED  EQU     h'1F' + b'11' + q'7'

        SECTION .bss:DATA:NOROOT(2)
sens?state:
        DS8     SENSORS
last:   DS32    1
        ALIGNRAM 2
hist:   DS16    4

        SECTION .text:CODE:NOROOT(2)
        THUMB
sens_init:
        PUSH    {R4, LR}
        MOVS    R0, #0
        LDR     R1, =sens?state
?loop:  STRB    R0, [R1]
        ADDS    R1, R1, #1
        CMP     R1, #MASK
        BNE     ?loop
        POP     {R4, PC}

sens_scan:
        PUSH    {R4-R6, LR}
        MOVS    R4, #COUNT
        BL      port_read
        LDR     R2, =last
        STR     R0, [R2, #0]
i       SET     0
        REPT    3
        ADDS    R0, R0, #STEP
i       SET     i + 1
        ENDR
        MOVS    R5, #i
        REPTC   lamp, "AB"
        MOVS    R1, #'lamp'
        ENDR
        REPTI   reg, R1, R2, R3
        MOVS    reg, #0
        ENDR
        IF      STEP > 1
        NOP
        ELSEIF  STEP = 1
        MOV     R8, R8
        ENDIF
        POP     {R4-R6, PC}

        ALIGNROM 2
        DATA
table:  DC32    MASK, BITS, OCTAL, 'ABCD'
        DC16    1, 2, 3
        DC8     "lamps", 0
        DC24    1
calls:  DC32    sens_init.
        END
