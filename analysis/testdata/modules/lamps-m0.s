        MODULE  lamps
        PUBLIC  lamp_on
        PUBLIC  lamp_wait
        SECTION .text:CODE(2)
        THUMB
LAMP_BASE DEFINE 0x50000000

; The bit of a lamp, by its number.
bit     MACRO   to, number
        MOVS    to, #1
        LSLS    to, to, number
        ENDM

pause   MACRO
        NOP
        NOP
        ENDM

lamp_on bit     R1, R0
        LDR     R2, =LAMP_BASE
        STR     R1, [R2, #4]
        BX      LR

lamp_wait:
        MOVS    R1, #200
loop:   pause
        SUBS    R1, R1, #1
        BNE     loop
        BX      LR
        IF LAMP_BASE > 0
        DC8     1
        ELSE
        DC8     2
        ENDIF
        END
