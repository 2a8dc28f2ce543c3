// Package flow follows what execution meets: where it goes after each item, modes
// and alignment of code, pools that it runs into, bit 0 of addresses that change the
// state (Check), and what is still needed after an item: registers and flags that
// some path reads before it writes them (Paths). It also says which code counts on
// its layout, and which on the words on the stack.
package flow
