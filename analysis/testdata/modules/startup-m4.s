/*
 * Start of the signal box's firmware: vectors and the first instructions.
 * An invented board; no real one looks like this.
 */

        MODULE  ?signalbox_start

        ;; Where the stack is, the linker decides.
        SECTION CSTACK:DATA:NOROOT(3)

        SECTION .intvec:CODE:NOROOT(2)

        EXTERN  main_loop
        EXTERN  clock_setup, lamps_off
        PUBLIC  __vector_table
        PUBLIC  __vectors_end

        DATA
__vector_table
        DC32    sfe(CSTACK)
        DC32    start_here              ; first instruction
        DC32    nmi_handler             // never masked
        DC32    fault_handler
        DS32    7
        DC32    call_handler
        DC32    0, 0
        DC32    switch_handler
        DC32    tick_handler
        DC32    point_moved, track_busy /* sensors */
__vectors_end

VECTORS EQU     __vectors_end - __vector_table
LAMPS   EQU     0x40021000
BLINK   SET     3
BLINK   SET     BLINK + 1

        THUMB

        PUBWEAK start_here
        SECTION .text:CODE:REORDER:NOROOT(2)
start_here
        LDR     R0, =clock_setup
        BLX     R0
        LDR     R0, =LAMPS
        MOVS    R1, #BLINK << 2
        STR     R1, [R0, #0x10]
        MRS     R2, PRIMASK
        CPSID   I
        MSR     PRIMASK, R2
        LDR     R0, =main_loop
        BX      R0

        PUBWEAK nmi_handler
        PUBWEAK fault_handler
        PUBWEAK call_handler
        PUBWEAK switch_handler
        PUBWEAK tick_handler
        SECTION .text:CODE:REORDER:NOROOT(1)
nmi_handler:
fault_handler:
call_handler:
switch_handler:
tick_handler:
        B       .

        PUBWEAK point_moved
        SECTION .text:CODE:REORDER:NOROOT(1)
point_moved
        B point_moved

        PUBWEAK track_busy
track_busy
        PUSH    {R4, LR}
        LDR     R4, =lamps_off
        CBZ     R0, track_free
        BLX     R4
track_free
        POP     {R4, PC}

        SECTION .rodata:CONST:NOROOT(2)
names   DC8     'north', 0
        DC8     "south"
        DC16    sizeof(.rodata), 0x1234
        ALIGNROM 2
        DC32    names, VECTORS

        SECTION .bss:DATA:NOROOT(2)
state   DS8     5
        ALIGNRAM 2
ticks   DS32    1

        END
