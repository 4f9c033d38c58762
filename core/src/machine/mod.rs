//! How a circuit behaves in time: one settled event machine, its step written once over an algebra.
