//! The TTL that old boards are made of: one description a part, in the language that users write.
//!
//! [`ttl`] is the drawer that a [`Board`](gluewright::board::Board) takes its parts from; it understands type numbers as
//! they are printed on packages, [as `type_number` explains](type_number). [`parts`] lists what is in it, with the
//! figures of the data sheets and where each comes from; `PARTS.md` is the same as a page.
#![deny(missing_docs)]
mod catalogue;
mod drawer;
mod dump;
mod family;
mod fused;
mod hand_over;
mod page;
mod prom;
mod sheet;
mod table;
#[allow(missing_docs)] // the fields are the pins of the data sheets
mod ttl;
pub mod type_number;

pub use catalogue::{Found, NotFound, Refusal, Ttl, TtlType, parts, ttl};
pub use drawer::Drawer;
pub use dump::{Dump, DumpError, DumpNote, PulledTo};
pub use family::Family;
pub use fused::{FusedError, fused};
pub use page::page;
pub use prom::{Content, ContentError, HexError, HexFault, PromError, prom};
pub use sheet::{
    Change, Delay, Edge, FamilyFigures, Fault, Figure, Figures, InputCurrents, Measured, Memory, MissingDelay, NoLogic,
    NotShared, OutputLimits, Pin, Problem, Pulse, PulseLevel, Rate, Recovery, Sheet, SheetError, Source, Span,
    SupplyCurrent, Threshold, Width, Window,
};
pub use ttl::chips;
pub use type_number::{Series, TypeNumber, TypeNumberError};
