//! A circuit is a struct.
use gluewright::prelude::*;

#[derive(Circuit)]
pub enum Card {
    A,
    B,
}

fn main() {}
