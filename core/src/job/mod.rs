//! The program that a user's `main` calls: prove, fit, emit, prove again.
