; cpu: arm7tdmi
; Line driver of the older signal box (invented): A32, records on a register.
        AREA    uart, CODE, READONLY
        CODE32
base    RN      9
count   RN      r4
saved   RLIST   {r4-r6, lr}
back    RLIST   {count, r5, r6, pc}
        MAP     0, base
line_data   FIELD   4
line_state  FIELD   4
line_speed  FIELD   2
line_flags  FIELD   1
            FIELD   1
line_size   FIELD   0
        ^       16, r10
red     #       4
green   #       4

READY   EQU     1 :SHL: 3
SPEED   EQU     (48000000 / 16 / 9600) :AND: 0xFFFF
reset   EQU     0x4, CODE32
shadow  *       &FFFFF000, DATA

        EXPORT  line_open [ARM]
        EXPORT  line_send
        EXPORT  line_where
line_open
        STMFD   sp!, saved
        LDR     base, =shadow
        LDR     r0, =SPEED
        STRH    r0, line_speed
        MOV     r0, #1
        STRB    r0, line_flags
        LDR     r0, line_state
        TST     r0, #READY
        LDREQ   r0, line_data + 0
        STREQ   r0, green
        ADR     r1, line_speed
        ADRL    r2, far_table
        LDMFD   sp!, back

line_send ROUT
        STMFD   sp!, \
                saved               ; the list goes on here
        MOV     count, r0
01      LDR     r0, \
                line_state
        TST     r0, #READY
        BEQ     %B01
        LDRB    r0, [r1], #1
        STR     r0, line_data
        SUBS    count, count, #1
        BNE     %B01line_send
        LDMFD   sp!, back

line_where
        ADD     r0, base, #:INDEX: line_speed
        MOV     r1, #:BASE: line_speed
        LDR     r2, red
        MOV     pc, lr
        LTORG
        SPACE   4000
far_table
        DCD     line_open, line_send, \
                line_where, \
                0
        DCI     0xE1A00000
        DCB     :CHR: 65, :LEN: "lamp", "a" :CC: "b"
        END
