// Switches from one task of the signal box to another one. Invented.

#define TASK_STACK 4
#define KEEP_FLOAT 1

        NAME    box_switch
        RSEG    CODE:CODE(2)
        thumb

        EXTERN  box_task
        EXTERN  box_next_task
        PUBLIC  box_switch
        PUBLIC  box_first
        PUBLIC  box_lock
        CFI     Names boxNames
        CFI     StackFrame CFA R13 DATA

box_first:
        ldr     r3, =box_task
        ldr     r1, [r3]
        ldr     r0, [r1]                ; top of its stack
        ldmia   r0!, {r4-r11, lr}
        msr     psp, r0
        isb
        mov     r0, #0
        msr     basepri, r0
        bx      lr

box_switch:
        mrs     r0, psp
        isb
        ldr     r3, =box_task
        ldr     r2, [r3]
        tst     lr, #0x10
        it      eq
        vstmdbeq r0!, {s16-s31}
        stmdb   r0!, {r4-r11, lr}
        str     r0, [r2]
        push    {r0, r3}
        mov     r0, #(TASK_STACK << 3)
        msr     basepri, r0
        dsb
        bl      box_next_task
        mov     r0, #0
        msr     basepri, r0
        pop     {r0, r3}
        ldr     r1, [r3]
        ldr     r0, [r1]
        ldmia   r0!, {r4-r11, lr}
#if KEEP_FLOAT
        tst     lr, #0x10
        it      eq
        vldmiaeq r0!, {s16-s31}
#endif
        msr     psp, r0
        bx      lr

box_lock
        mrs     r0, basepri
        movs    r1, #TASK_STACK
        msr     basepri, r1
        bx      lr
        LTORG
        END
