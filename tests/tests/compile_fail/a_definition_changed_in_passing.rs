//! Each word of a definition makes a new one of it. (Guide page.)
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(1)]
    clock: Input<Clock>,
    #[contact(4)]
    a: Input<Data>,
    seen: Buried<Register>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        let seen = on(self.clock.rises()).load(self.a.level());
        seen.clear_while(self.a.level().is_low());
        CardWiring {
            seen,
        }
    }
}

fn main() {}
