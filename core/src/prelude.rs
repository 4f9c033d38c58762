//! Everything that a circuit's source file needs: `use gluewright::prelude::*;`.
pub use gluewright_kernel::prelude::*;
