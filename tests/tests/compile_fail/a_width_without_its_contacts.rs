//! A parameter says how many contacts there are.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card<const N: usize> {
    #[contact(3)]
    a: Input<Data>,
    #[contact(8..=11)]
    y: [Output<Data>; N],
}

impl<const N: usize> Wiring for Card<N> {
    fn wire(&self) -> CardWiring<N> {
        CardWiring { y: each(|_| follow(self.a.level())) }
    }
}

fn main() {}
