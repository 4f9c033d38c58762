//! What is written for people and programmers: equations, wiring, proof record; whole or not at all.
