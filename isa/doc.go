package isa

// Version of the table; part of every cached fact.
const Version = 1
