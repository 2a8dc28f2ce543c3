; cpu: cortex-m4
; fpu: fpv4-sp-d16
; Task switch of the signal box's scheduler (invented): one task for each track.

        GET     switch.inc          ; numbers that the C part has, too

        EXTERN  current_task
        EXTERN  next_task
        EXTERN  fault_count
        EXPORT  PendSV_Handler
        EXPORT  SVC_Handler
        EXPORT  start_first_task
        EXPORT  lock_tracks
        EXPORT  unlock_tracks

        PRESERVE8
        THUMB
        AREA    |.text.switch|, CODE, READONLY, ALIGN=3, CODEALIGN
callee  RLIST   {r4-r11}
task    RN      r2
stack   RN      0

PendSV_Handler PROC
        FRAME   STATE REMEMBER
        mrs     stack, psp
        isb
        /* Get the location of the current task. */
        ldr     r3, =current_task
        ldr     task, [r3]

        tst     r14, #0x10          ; did the task use the floating-point unit?
        it      eq
        vstmdbeq r0!, {s16-s31}

        stmdb   stack!, callee
        stmdb   r0!, {r14}
        str     stack, [task]

        stmdb   sp!, {r0, r3}
        mov     r0, #MAX_PRIORITY
        msr     basepri, r0
        dsb
        isb
        bl      next_task
        mov     r0, #0
        msr     basepri, r0
        ldmia   sp!, {r0, r3}

        ldr     r1, [r3]
        ldr     r0, [r1]
        ldmia   r0!, {r14}
        ldmia   stack!, callee
        tst     r14, #0x10
        it      eq
        vldmiaeq r0!, {s16-s31}
        msr     psp, r0
        isb
        FRAME   STATE RESTORE
        bx      r14
        ENDP

SVC_Handler FUNCTION
        ldr     r3, =current_task
        ldr     r1, [r3]
        ldr     r0, [r1]
        ldmia   r0!, \
                {r4-r11, \
                 r14}
        msr     psp, r0
        isb
        mov     r0, #0
        msr     basepri, r0
        bx      r14
        ENDFUNC

start_first_task PROC
        ldr     r0, =0xE000ED08     ; where the vectors are
        ldr     r0, [r0]
        ldr     r0, [r0]
        msr     msp, r0
        mov     r0, #0
        msr     control, r0
        cpsie   i
        cpsie   f
        dsb
        isb
        svc     0
        nop
        nop
        ENDP

; Locking is counted: the last unlock lets the interrupts in again.
lock_tracks PROC
        mrs     r1, basepri
        movs    r0, #MAX_PRIORITY
        msr     basepri, r0
        cmp     r1, #MAX_PRIORITY
        moveq   r0, #1              ; no IT line: the assembler puts it in
        movne   r0, #0
        bx      lr
        ENDP

unlock_tracks PROC
        cbz     r0, %FT1
        cmp     r0, #TRACKS
        bhi.w   bad_lock
        bx      lr
1       msr     basepri, r0
        bx      lr
        ENDP

bad_lock
        mov32   r0, fault_count
        ldr     r1, [r0]
        add     r1, r1, #1
        str     r1, [r0]
        mov32   r2, #0x20001000
        und     #7
        b       bad_lock
        ALIGN
        END
