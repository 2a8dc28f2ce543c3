; cpu: cortex-m0
; Task switch for the small signal box (invented); the core has 16-bit code alone.
        TTL     port of the scheduler
        SUBT    small cores
        OPT     2
        AREA    ||.text||, CODE, READONLY, ALIGN=2
        THUMB
        REQUIRE8
        PRESERVE8

        IMPORT  current_task [DATA]
        IMPORT  choose_task  [CODE]
        EXPORT  PendSV_Handler
        EXPORT  first_task   [SIZE=12]
        KEEP    first_task

; layout of a task's record
        ^       0
tk_sp   #       4           ; its stack
tk_prio #       1
tk_flag #       1
        ALIGN   2
tk_wait #       2
tk_size #       0
        ASSERT  tk_size = 8

PendSV_Handler ROUT
        MRS     R0, PSP
        LDR     R3, =current_task
        LDR     R1, [R3, #tk_sp]
        SUBS    R0, R0, #32
        STR     R0, [R1]
        STMIA   R0!, {R4-R7}
        MOV     R4, R8
        MOV     R5, R9
        MOV     R6, R10
        MOV     R7, R11
        STMIA   R0!, {R4-R7}
        PUSH    {R3, LR}
        CPSID   I
        BL      choose_task
        CPSIE   I
        POP     {R2, R3}
        LDR     R1, [R2]
        LDR     R0, [R1]
        LDRB    R1, [R1, #tk_prio]
        CMP     R1, #0
        BEQ     %F1
        ADDS    R0, #16
        LDMIA   R0!, {R4-R7}
        MOV     R8, R4
        MOV     R9, R5
        MOV     R10, R6
        MOV     R11, R7
        MSR     PSP, R0
        SUBS    R0, #32
        LDMIA   R0!, {R4-R7}
1       BX      R3

first_task ROUT
        LDR     R0, =current_task
        LDR     R0, [R0]
        LDR     R0, [R0]
1       ADDS    R0, #32
        CMP     R0, #0
        BEQ     %B1
        BEQ     %B1first_task
        MSR     PSP, R0
        ISB
        BX      LR
        LTORG
        AREA    numbers, DATA, READONLY
table   DCWU    1, 2, 3
        DCB     "tasks: ", "4", 0
        ALIGN   4, 1, 0xFF
        DCB     1
        FILL    8, 0xA5, 1
        FILL    4
        DCDU    table
        DCQ     0x1122334455667788, 1
        DCFS    1.5, -2.0E-3
        DCFD    3.25
        DCFDU   0.5, 2
        END
