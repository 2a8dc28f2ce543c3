/**************************************************
 *
 * Start-up code of the signal box board. Invented.
 * All interrupts that nobody takes end in one loop.
 *
 **************************************************/
        MODULE  ?box_startup

        ;; Forward declaration of sections.
        SECTION CSTACK:DATA:NOROOT(3)

        SECTION .intvec:CODE:NOROOT(2)

        EXTERN  box_main
        EXTERN  clock_init
        PUBLIC  vector_table
        PUBLIC  vector_table_0x1c
        PUBLIC  vectors_size

        DATA

vector_table
        DCD     sfe(CSTACK)
        DCD     reset_handler             ; reset
        DCD     nmi_handler               ; NMI
        DCD     fault_handler             ; hard fault
        REPT    3
        DCD     0                         ; reserved
        ENDR
vector_table_0x1c
        DCD     0
        DCD     svc_handler
        DCD     0
        DCD     switch_handler
        DCD     tick_handler
        REPT    8
        DCD     any_handler
        ENDR
vectors_end

vectors_size    EQU   vectors_end - vector_table

        THUMB

        PUBWEAK reset_handler
        SECTION .text:CODE:REORDER:NOROOT(2)
reset_handler
        LDR     R0, =clock_init
        BLX     R0
        LDR     R0, =box_main
        BX      R0

        PUBWEAK nmi_handler
        SECTION .text:CODE:REORDER:NOROOT(1)
nmi_handler
        B nmi_handler

        PUBWEAK fault_handler
        SECTION .text:CODE:REORDER:NOROOT(1)
fault_handler
        TST     LR, #4
        ITE     EQ
        MRSEQ   R0, MSP
        MRSNE   R0, PSP
        B fault_handler

        PUBWEAK svc_handler
        PUBWEAK switch_handler
        PUBWEAK tick_handler
        PUBWEAK any_handler
        SECTION .text:CODE:REORDER:NOROOT(1)
svc_handler
switch_handler
tick_handler
any_handler
        B any_handler
        END
