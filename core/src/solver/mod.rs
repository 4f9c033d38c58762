//! The door to Z3: the only room that knows its types.
