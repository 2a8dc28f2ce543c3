; cpu: cortex-m33
; Everything that is said about sections and names (invented).
        AREA    |.init_table|, DATA, READONLY, INIT_ARRAY, ALIGN=2
        DCD     run
        AREA    |.text.run|, CODE, READONLY, CODEALIGN, ALIGN=4, COMGROUP=run_group
        ATTR    SCOPE run
        THUMB
        EXPORT  run [WEAK, HIDDEN]
        EXPORT  run_twice [DYNAMIC, CODE, THUMB, SIZE=8]
        GLOBAL  run_end [PROTECTED]
        EXPORT  |run$here|
        EXPORT  twin
run     FUNCTION {r4}
        FRAME   PUSH {r4, lr}, 8
        PUSH    {r4, lr}
        FRAME   SAVE {r5}, -12
        FRAME   REGISTER r6, r7
        FRAME   UNWIND OFF
        FRAME   UNWIND ON
        BL      elsewhere
        RELOC   0x0A, elsewhere
        FRAME   POP {r4, lr}
        POP     {r4, lr}
        FRAME   RETURN ADDRESS lr
        BX      lr
        ENDFUNC
run_twice
        BL      run
        BL      run
run_end
|run$here|
        DCI     0xBF00
        DCI.N   0xBF00, 0xBF00
        DCI.W   0xF3AF8000
        ALIAS   run_twice, twin
        EXPORTAS run_end, run_stop
        AREA    fixed, CODE, READONLY, GROUP=set, LINKORDER=|.text.run|
        EXTERN  elsewhere [SIZE=4]
        IMPORT  absent [WEAK]
        AREA    text, DATA, READONLY, MERGE=1, STRINGS
        DCB     "points set", 0
        AREA    log, DATA, READWRITE, NOALLOC, SECTYPE=1, SECFLAGS=0
        DCD     absent
        AREA    table, DATA, READWRITE, ZEROALIGN, ASSOC=text
        DCDO    table_start
table_start
        INFO    0, "table at " :CC: :STR: 4
        !       0, "and more", 1
        INCBIN  lamps.bin
        GET     "switch.inc"
        KEEP
        NOFP
        END
