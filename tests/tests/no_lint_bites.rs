//! The derive's code gives rise to no warning in a user's crate, however strict it is.
#![deny(
    warnings,
    missing_docs,
    missing_debug_implementations,
    missing_copy_implementations,
    single_use_lifetimes,
    trivial_casts,
    unused_qualifications,
    unused_results,
    unused_lifetimes,
    unused_import_braces,
    let_underscore_drop,
    non_ascii_idents,
    variant_size_differences
)]
#![forbid(unsafe_code)]
use gluewright::prelude::*;

/// A card.
#[derive(Circuit, Debug, Clone, Copy)]
pub struct Card {
    /// A documented contact.
    #[contact(1)]
    pub a: Input<Data>,
    #[contact(2)]
    b: Output<Data>,
    /// Its own documentation goes to the wiring.
    #[contact(3, 4)]
    pub c: [Output<ActiveLow>; 2],
    d: Buried<Node>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            b: follow(self.d.level()),
            c: each(|_| assert_while(self.a.level().is_low())),
            d: follow(self.a.level()),
        }
    }
}

#[test]
fn a_strict_crate_compiles() {
    assert!(gluewright::circuit_of::<Card>().is_ok());
}
