//! Why a circuit can't be collapsed, and what would mend it.
use serde::Serialize;
use thiserror::Error;

use gluewright_kernel::circuit::{Malformed, Origin};

/// Why a circuit has no form that macrocells could hold.
#[derive(Clone, Debug, Error, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum LogicError {
    /// It is no circuit at all.
    #[error(transparent)]
    Malformed(#[from] Malformed),
    /// A net that is read and that nothing drives.
    #[error("{origin}: nothing drives `{net}`, which is read; give it a definition, or make it an input contact")]
    Undriven {
        /// The net.
        net: String,
        /// Where it was written.
        origin: Origin,
    },
    /// Several outputs on one net that can't be one macrocell.
    #[error(
        "{origin}: `{net}` has several drivers ({drivers}); a macrocell is one driver: choose between them in one definition"
    )]
    SeveralDrivers {
        /// The net.
        net: String,
        /// Who drives it.
        drivers: String,
        /// Where it was written.
        origin: Origin,
    },
    /// An internal net that floats at times.
    #[error(
        "{origin}: `{net}` is inside the device and its driver is not always on; inside a device nothing floats: define it for the other case too"
    )]
    FloatsInside {
        /// The net.
        net: String,
        /// Where it was written.
        origin: Origin,
    },
    /// A complementary output that decides on its own clear or preset.
    #[error(
        "{origin}: the clear and preset of `{element}` depend on its own complementary output; read its value inverted instead"
    )]
    ComplementLoop {
        /// The register or latch.
        element: String,
        /// Where it was written.
        origin: Origin,
    },
    /// A function beyond any device of the class.
    #[error(
        "the functions of `{circuit}` are too large to write out; keep wide intermediate signals as buried nodes so that they aren't dissolved"
    )]
    TooLarge {
        /// The circuit.
        circuit: String,
    },
}
