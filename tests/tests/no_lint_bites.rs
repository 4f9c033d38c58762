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
    #[contact(5)]
    unread: Input<Clock>,
    #[contact(6..=8)]
    unread_too: [Input<Data>; 3],
}

/// A circuit of any width.
#[derive(Circuit, Debug, Clone, Copy)]
pub struct Register<const N: usize, P: gluewright::signals::Asserted> {
    #[contact("CLK")]
    clock: Input<Clock>,
    #[contact("CLR")]
    clear: Input<P>,
    #[contact("D0"..)]
    d: [Input<Data>; N],
    #[contact("Q0"..)]
    q: [Output<Data>; N],
}

impl<const N: usize, P: gluewright::signals::Asserted> Wiring for Register<N, P> {
    fn wire(&self) -> RegisterWiring<N> {
        let clear = self.clear.asserted();
        RegisterWiring { q: each(|i| on(self.clock.rises()).load(self.d[i].level()).clear_while(clear)) }
    }
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
    let names =
        [gluewright::circuit_of::<Register<2, ActiveLow>>(), gluewright::circuit_of::<Register<8, ActiveHigh>>()]
            .map(|built| built.expect("sound").name);
    assert_eq!(names, ["register_2", "register_8"]);
}
