; cpu: cortex-m3
;/*****************************************************************************
; * @file    startup_signalbox_m3.s (invented demo data)
; * @brief   start of the larger signal box: vectors, stack, heap
; *          <h> and <o> are marks of a configuration tool
; *****************************************************************************/

;<h> Stack Configuration
;  <o> Stack Size (in Bytes) <0x0-0xFFFFFFFF:8>
;</h>
Stack_Size      EQU      0x00000400
                AREA     STACK, NOINIT, READWRITE, ALIGN=3
                EXPORT   __stack_limit
                EXPORT   __initial_sp

__stack_limit
Stack_Mem       SPACE    Stack_Size
__initial_sp

Heap_Size       EQU      0x00000C00
                IF       Heap_Size != 0                      ; Heap is provided
                AREA     HEAP, NOINIT, READWRITE, ALIGN=3
                EXPORT   __heap_base
                EXPORT   __heap_limit
__heap_base
Heap_Mem        SPACE    Heap_Size
__heap_limit
                ENDIF

                PRESERVE8
                THUMB

; Vector Table Mapped to Address 0 at Reset

                AREA     RESET, DATA, READONLY
                EXPORT   __Vectors
                EXPORT   __Vectors_End
                EXPORT   __Vectors_Size

__Vectors       DCD      __initial_sp                        ;     Top of Stack
                DCD      Reset_Handler                       ;     Reset Handler
                DCD      NMI_Handler                         ; -14 NMI Handler
                DCD      HardFault_Handler                   ; -13 Hard Fault Handler
                DCD      0, 0, 0, 0, 0, 0, 0                 ;     Reserved
                DCD      SVC_Handler                         ;  -5 SVCall Handler
                DCD      0                                   ;     Reserved
                DCD      0                                   ;     Reserved
                DCD      PendSV_Handler                      ;  -2 PendSV Handler
                DCD      SysTick_Handler                     ;  -1 SysTick Handler

                ; Interrupts
                DCD      Points0_Handler                     ;   0 Points of track 0
                DCD      Points1_Handler                     ;   1 Points of track 1
                DCD      Sensor_Handler                      ;   2 Track sensor
                DCD      Lamp_Handler                        ;   3 Lamp driver
                SPACE    (28 * 4)                            ; Interrupts 4 .. 31 are left out
__Vectors_End
__Vectors_Size  EQU      __Vectors_End - __Vectors

                AREA     |.text|, CODE, READONLY

; Reset Handler

Reset_Handler   PROC
                EXPORT   Reset_Handler             [WEAK]
                IMPORT   SystemInit
                IMPORT   __main

                LDR      R0, =SystemInit
                BLX      R0
                LDR      R0, =__main
                BX       R0
                ENDP

; The default macro is not used for HardFault_Handler
; because this results in a poor debug illusion.
HardFault_Handler PROC
                EXPORT   HardFault_Handler         [WEAK]
                B        .
                ENDP

; Macro to define default exception/interrupt handlers.
; Default handler are weak symbols with an endless loop.
; They can be overwritten by real handlers.
                MACRO
                Set_Default_Handler  $Handler_Name
$Handler_Name   PROC
                EXPORT   $Handler_Name             [WEAK]
                B        .
                ENDP
                MEND

; Default exception/interrupt handler

                Set_Default_Handler  NMI_Handler
                Set_Default_Handler  SVC_Handler
                Set_Default_Handler  PendSV_Handler
                Set_Default_Handler  SysTick_Handler

                Set_Default_Handler  Points0_Handler
                Set_Default_Handler  Points1_Handler
                Set_Default_Handler  Sensor_Handler
                Set_Default_Handler  Lamp_Handler

                ALIGN

; User setup Stack & Heap

                IF       :LNOT::DEF:__MICROLIB
                IMPORT   __use_two_region_memory
                ENDIF

                EXPORT   __user_initial_stackheap [CODE]
__user_initial_stackheap
                LDR      R0, =__heap_base
                LDR      R1, =(Stack_Mem + Stack_Size)
                LDR      R2, =(__heap_base + Heap_Size)
                LDR      R3, =Stack_Mem
                BX       LR

                ALIGN
                END
