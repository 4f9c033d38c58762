//! A small plug-in card of half a dozen TTL chips is missing from an old circuit board, and its schematic is known from a
//! sister board. This crate lets you write a replacement as Rust, proves that it behaves like the traced original at every
//! contact, fits it into one programmable device, writes the files that the device programmer and the workbench need, and
//! proves what was written once more.
//!
//! ```
//! use gluewright::board::Board;
//! use gluewright::device::find;
//! use gluewright::fit::{Wishes, fit};
//! use gluewright::prelude::*;
//!
//! /// Stops a telephone exchange's bell when the called party has answered.
//! #[derive(Circuit)]
//! struct Answer {
//!     #[contact(1)]
//!     pulse: Input<Clock>,
//!     #[contact(2)]
//!     hook: Input<ActiveLow>,
//!     #[contact(3)]
//!     ringing: Input<ActiveHigh>,
//!     #[contact(4)]
//!     bell: Output<ActiveLow>,
//!     answered: Buried<Register, ActiveHigh>, // never leaves the device: it has no pin, so no driver to enable
//! }
//!
//! impl Wiring for Answer {
//!     fn wire(&self) -> AnswerWiring {
//!         AnswerWiring {
//!             answered: on(self.pulse.rises()).load(self.hook.asserted()),
//!             bell: assert_while(self.ringing.asserted() & !self.answered.asserted()),
//!         }
//!     }
//! }
//!
//! // the lost card, as it was traced from its sister: a flip-flop and a NAND gate
//! let trace = "ref,part,pin,net
//! J1,contacts,1,pulse
//! J1,contacts,2,hook_n
//! J1,contacts,3,ringing
//! J1,contacts,4,bell_n
//! U1,74LS74,1,VCC
//! U1,74LS74,2,hook_n
//! U1,74LS74,3,pulse
//! U1,74LS74,4,VCC
//! U1,74LS74,5,waiting
//! U1,74LS74,others,open
//! U1,74LS74,14,VCC
//! U1,74LS74,7,GND
//! U2,74LS00,1,ringing
//! U2,74LS00,2,waiting
//! U2,74LS00,3,bell_n
//! U2,74LS00,others,open
//! U2,74LS00,14,VCC
//! U2,74LS00,7,GND
//! ";
//! let lost_card = Board::from_csv("answer.csv", trace, gluewright_parts::ttl())?;
//! let proof = prove::<Answer>().against(&lost_card).run()?;
//! println!("{proof}");
//!
//! let fitted = fit(&gluewright::circuit_of::<Answer>()?, find("22V10").ok_or("no such device")?, &Wishes::none())?;
//! println!("{}", gluewright::emit::equations(&fitted));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! A program that does all of it, with options, an output folder and an exit status, is one line: [`job()`].
//!
//! # Where what is
//!
//! | module | for |
//! |---|---|
//! | [`prelude`] | the words of a circuit's source file |
//! | [`board`] | traces, and what is found in them |
//! | [`prove`](mod@prove) | claims, proofs, refutations |
//! | [`idioms`] | counters, shift registers, decoders, synchronisers, latches |
//! | [`bench`](mod@bench) | a circuit or a board on a test bench, by the names of its contacts |
//! | [`simulate`] | the same 64 runs at a time |
//! | [`limit`] | how long all that may take, and a token that stops it |
//! | [`explain`] | a refutation in words, with its waveform |
//! | [`circuit`] | what everything becomes: nets, elements, contacts |
//! | [`device`], [`fit`], [`fusefile`], [`emit`], [`netlist`] | devices, the fit into one, the files for it |
//! | [`drawer`], [`choose`](mod@choose) | the devices at hand, and which of them to take |
//! | [`timing`], [`loading`], [`hazard`], [`synchronisers`], [`vectors`] | times, currents, glitches, sampled signals, test vectors |
//! | [`mend`], [`edit`], [`capture`] | what would mend a refutation; what a logic analyser saw |
//! | [`report`], [`cautions`], [`mod@job`] | the page for the box, the cautions, the whole job |
//!
//! The [`guide`] leads from a lost card to a part in its socket, and [`guide::glossary`] has the words of the field.
//!
//! # Features
//!
//! All are on by default. Without default features the crate is its kernel: source, trace, proof, simulation. `devices`
//! adds fits and files, `analysis` what is found out beyond logic, `report` the page, `command` the job as a program.
#![deny(missing_docs)]
#![cfg_attr(not(feature = "command"), allow(rustdoc::broken_intra_doc_links))]

mod claims;
pub mod guide;
pub mod idioms;
pub mod prelude;
mod words;

#[cfg(feature = "analysis")]
pub use gluewright_analysis::{
    capture, choose, continuity, draft, edit, hazard, host, loading, mend, synchronisers, timing, vectors,
};
#[cfg(feature = "command")]
pub use gluewright_command::job;
#[cfg(feature = "command")]
pub use gluewright_command::job::job;
#[cfg(feature = "devices")]
pub use gluewright_devices::{device, drawer, emit, fit, fusefile, netlist, seat};
pub use gluewright_kernel::{bench, board, circuit, explain, figures, limit, order, prove, signals, simulate};
#[cfg(feature = "report")]
pub use gluewright_report::{self as report, cautions};

pub use claims::*;
pub use gluewright_kernel::{BuildError, Circuit, Definition, Mistake, Wiring};
pub use words::*;
