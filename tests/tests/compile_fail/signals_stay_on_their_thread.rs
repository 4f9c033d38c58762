//! A signal belongs to a build on its own thread.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(4)]
    a: Input<Data>,
    #[contact(17)]
    wait: Output<ActiveLow>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        let level = self.a.level();
        let a = std::thread::scope(|s| s.spawn(move || level.is_high()).join()).unwrap();
        CardWiring {
            wait: assert_while(a),
        }
    }
}

fn main() {}
