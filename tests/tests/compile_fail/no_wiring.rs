//! A circuit needs its wiring.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(1)]
    a: Input<Data>,
    #[contact(2)]
    data: Output<Data>,
}

pub fn build() {
    let _ = gluewright::circuit_of::<Card>();
}

fn main() {}
