//! A circuit has no parameters.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card<const N: usize> {
    #[contact(1)]
    a: Input<Data>,
}

fn main() {}
