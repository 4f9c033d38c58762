//! Running a circuit on concrete levels, 64 runs at a time.
