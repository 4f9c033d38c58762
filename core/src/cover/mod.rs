//! Two-level covers: the fewest product terms that hold a function, in either polarity.
