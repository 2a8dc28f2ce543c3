; cpu: arm926ej-s
; Exceptions of the display's processor (invented).
        GBLL    THUMB_TOO
THUMB_TOO SETL  {TRUE}
        ATTR    FILESCOPE
        ATTR    SETTAG  24, 1
        AREA    Vectors, CODE, READONLY, ALIGN=5
        ARM
        ENTRY
        EXPORT  vectors
vectors
        LDR     pc, =Reset
        LDR     pc, Undefined_Address
        LDR     pc, SWI_Address
        LDR     pc, Prefetch_Address
        LDR     pc, Abort_Address
        NOP
        LDR     pc, IRQ_Address
FIQ_Handler
        SUBS    pc, lr, #4
Undefined_Address   DCD     Undefined
SWI_Address         DCD     SWI_Handler
Prefetch_Address    DCD     Prefetch
Abort_Address       DCD     Abort
IRQ_Address         DCD     IRQ_Handler

stack_top       EQU     0x00208000
Len_FIQ         EQU     64
Mode_USR        EQU     2_10000
Mode_FIQ        EQU     2_10001
Mode_IRQ        EQU     &12
Mode_SVC        EQU     8_23
I_Bit           EQU     1 << 7
F_Bit           EQU     1:SHL:6

Reset   PROC
        MSR     CPSR_c, #Mode_FIQ :OR: I_Bit :OR: F_Bit
        LDR     sp, =stack_top
        MSR     CPSR_c, #Mode_IRQ:OR:I_Bit:OR:F_Bit
        LDR     sp, =(stack_top - Len_FIQ)
        MSR     CPSR_c, #(Mode_SVC + I_Bit + F_Bit)
        SUB     sp, sp, #Len_FIQ
        MRC     p15, 0, r0, c1, c0, 0
        BIC     r0, r0, #1 :OR: 4
        MCR     p15, 0, r0, c1, c0, 0
cache   CN      7
system  CP      15
        MCR     system, 0, r0, cache, c7, 0
        [       THUMB_TOO
        ADR     r0, start + 1
        BX      r0
        CODE16
start   LDR     r1, =C_Entry
        BX      r1
        |
        B       C_Entry
        ]
        ENDP

        ARM
SWI_Handler
        FRAME   ADDRESS sp, 8
        STMFD   sp!, {r0-r3, r12, lr}
        MRS     r0, SPSR
        TST     r0, #&20
        LDRNEH  r0, [lr, #-2]
        BICNE   r0, r0, #0xFF00
        LDREQ   r0, [lr, #-4]
        BICEQ   r0, r0, #0xFF000000
        CMP     r0, #(jump_end - jump_table) / 4
        LDRCC   pc, [pc, r0, LSL #2]
        B       %FT0
jump_table
        DCD     swi_lamp, swi_points
jump_end
swi_lamp
swi_points
0       LDMFD   sp!, {r0-r3, r12, pc}^
Undefined
Prefetch
Abort   B       {PC}
IRQ_Handler
        SUB     lr, lr, #4
        STMFD   sp!, {r0-r3, r12, lr}
        BL      C_Interrupt
        LDMFD   sp!, {r0-r3, r12, pc}^
        LTORG
        IMPORT  C_Entry, WEAK
        IMPORT  C_Interrupt [WEAK, CODE]
        IMPORT  |Lib$$Request$$signals|, WEAK
        END
