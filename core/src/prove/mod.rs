//! Proof that a replacement refines the original, or the shortest sequence that shows it does not.
