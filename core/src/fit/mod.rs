//! Placing a circuit into a device: pins, polarity, product terms, macrocells.
