; cpu: cortex-m3
; Macros of the signal box (invented), with conditions in their names.
        GBLA    calls
        GBLL    verbose
        GBLS    where
calls   SETA    0
verbose SETL    {FALSE}
where   SETS    "track"

        MACRO
$label  Return$cond
$label  BX$cond lr
        MEND

        MACRO
$label  Lamp$cond $port, \
                  $bit=#1, $what="off"
        LCLS    name
        LCLA    n
calls   SETA    calls + 1
name    SETS    "$what" :CC: "_" :CC: :STR: calls
n       SETA    :LEN: name
        IF      "$what" = ""
        INFO    1, "what the lamp does is missing"
        MEXIT
        ELIF    :LNOT: ("$what" = "off" :LOR: "$what" = "on")
        INFO    1, "a lamp is on or off"
        ENDIF
$label  LDR$cond r0, [$port]
        IF      "$what" = "on"
        ORR$cond r0, r0, $bit
        ELSE
        BIC$cond r0, r0, $bit
        ENDIF
        STR$cond r0, [$port]
        ASSERT  n > 8
        MEND

        MACRO
        Pad     $to
        WHILE   ({PC} - \
                tables) :MOD: $to <> 0
        DCB     0xFF
        WEND
        MEND

        MACRO
        Wait    $reg, $n
        MOV     $reg, #$n
1       SUBS    $reg, $reg, #1
        BNE     %BT1
        MEND

        MACRO
        Both    $a, $b
        Wait    $a, 3
        BEQ     %FA2
        Wait    $b, 4
        MEND

        AREA    lamps, CODE, READONLY
        THUMB
        EXPORT  show
show    PROC
        PUSH    {r4, lr}
        LDR     r4, =0x40020014
        Lamp    r4, #2, on
        CMP     r1, #0
        LampEQ  r4, |, off
again   LampNE  r4, #0x100, "on"
        Lamp    \
                r4, |, \
                |
        SUBS    r1, #3
        BEQ     again
        Both    r2, r3
2       POP     {r4, lr}
        CMP     r0, #0
        ReturnEQ
last    Return
        ENDP
        ASSERT  calls = \
                4
        IF      calls > 3 :LAND: :LNOT: verbose
where   SETS    :LOWERCASE: (where :CC: "S")
        ENDIF
        IF      :DEF: verbose :LAND: \
                where = "tracks"
where   SETS    (where :LEFT: 5) :CC: ("12345" :RIGHT: 2)
        ENDIF
        ASSERT  where = "track45"
        ASSERT  where <> "" && calls >= 4 || 1 > 2
        AREA    names, DATA, READONLY
tables
$where._table
        DCB     "$where", 0
        Pad     16
        DCD     show, track45_table
        END
