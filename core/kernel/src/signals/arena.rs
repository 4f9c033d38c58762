//! The circuits that are being built on this thread, and the handles into them.
use std::cell::{Cell, RefCell};
use std::marker::PhantomData;
use std::panic::Location;

use super::derived::Shape;
use super::error::{BuildError, Mistake};
use super::source::{Turn, Turnable};
use crate::circuit::{self, ElementId, Expr, NetId, Origin};

/// A handle to an expression of one build.
#[derive(Clone, Copy, Debug)]
pub(super) struct Id {
    generation: u32,
    at: Expr,
    local: Local,
}

/// A handle to a field of one build.
#[derive(Clone, Copy, Debug)]
pub struct SlotId {
    generation: u32,
    index: u32,
    local: Local,
}

/// Keeps a handle on its thread: the build that it belongs to is there and nowhere else.
type Local = PhantomData<*const ()>;

/// Constants belong to every build.
const EVERY: u32 = 0;
/// Made while no build was open.
const NO_BUILD: u32 = u32::MAX;

impl Id {
    pub(super) const LOW: Id = Id { generation: EVERY, at: Expr::LOW, local: PhantomData };
    pub(super) const HIGH: Id = Id { generation: EVERY, at: Expr::HIGH, local: PhantomData };
    pub(super) const NOWHERE: Id = Id { generation: NO_BUILD, at: Expr::LOW, local: PhantomData };
}

impl SlotId {
    pub(super) const NOWHERE: SlotId = SlotId { generation: NO_BUILD, index: 0, local: PhantomData };
}

/// What a field has on its inner side.
#[derive(Clone, Copy, Debug)]
pub(super) enum Own {
    /// An input drives nothing.
    Nothing,
    /// The value that an output would drive, or a node.
    Net(NetId),
    /// A buried register or latch.
    Element(ElementId),
}

/// A field, as the build knows it.
#[derive(Clone, Debug)]
pub(super) struct Slot {
    pub(super) name: String,
    pub(super) shape: Shape,
    pub(super) wire: Option<NetId>,
    pub(super) own: Own,
    /// Its polarity is the other one than the source declares.
    pub(super) turned: bool,
    /// How many drivers its wire has by itself, if it is one of a circuit inside.
    pub(super) drivers: Option<usize>,
}

/// One circuit that is being built.
#[derive(Debug)]
pub(super) struct Build {
    generation: u32,
    pub(super) circuit: circuit::Circuit,
    slots: Vec<Slot>,
    mistakes: Vec<Mistake>,
    /// What is turned round of what the source says.
    pub(super) turn: Option<Turn>,
    /// What could be.
    pub(super) places: Vec<Turnable>,
    /// The contacts of circuits inside, each a wire of this one.
    pub(super) wires: Vec<NetId>,
    /// Every field has its drivers.
    pub(super) is_wired: bool,
}

impl Build {
    /// Every field has its drivers: a wire to a circuit inside is now the net that it comes from, however many it goes to.
    pub(super) fn wired(&mut self) {
        self.is_wired = true;
        let mut wires = std::mem::take(&mut self.wires);
        wires.sort_unstable();
        self.circuit.join_wires(&wires);
    }

    /// Keeps a place that could be turned, once; gives whether it is.
    pub(super) fn place(&mut self, place: Turnable) -> bool {
        let turned = self.turn == Some(place.turn);
        if !self.places.contains(&place) {
            self.places.push(place);
        }
        turned
    }

    pub(super) fn add_slot(&mut self, slot: Slot) -> SlotId {
        self.slots.push(slot);
        SlotId { generation: self.generation, index: self.slots.len() as u32 - 1, local: PhantomData }
    }

    /// The field, if it is one of this build.
    pub(super) fn slot(&self, id: SlotId) -> Option<&Slot> {
        self.slots.get(id.index as usize).filter(|_| id.generation == self.generation)
    }

    /// The expression behind a handle. A handle of another build is a mistake and reads low.
    pub(super) fn expr(&mut self, id: Id, at: &'static Location<'static>) -> Expr {
        if id.generation == self.generation || id.generation == EVERY {
            return id.at;
        }
        self.mistake(Mistake::ForeignSignal { origin: Origin::from(at) });
        Expr::LOW
    }

    /// Keeps a mistake, once.
    pub(super) fn mistake(&mut self, mistake: Mistake) {
        if !self.mistakes.contains(&mistake) {
            self.mistakes.push(mistake);
        }
    }

    fn handle(&self, at: Expr) -> Id {
        Id { generation: self.generation, at, local: PhantomData }
    }
}

thread_local! {
    static BUILDS: RefCell<Vec<Build>> = const { RefCell::new(Vec::new()) };
    static LAST: Cell<u32> = const { Cell::new(EVERY) };
}

/// Runs `f` on the innermost build of this thread, if there is one. `f` runs no code of a user's.
pub(super) fn innermost<R>(f: impl FnOnce(&mut Build) -> R) -> Option<R> {
    BUILDS.try_with(|b| b.borrow_mut().last_mut().map(f)).ok().flatten()
}

/// Makes an expression out of others.
#[track_caller]
pub(super) fn combine<const N: usize>(of: [Id; N], f: impl FnOnce(&mut circuit::Circuit, [Expr; N]) -> Expr) -> Id {
    let at = Location::caller();
    innermost(|b| {
        let of = of.map(|id| b.expr(id, at));
        let made = f(&mut b.circuit, of);
        b.handle(made)
    })
    .unwrap_or(Id::NOWHERE)
}

/// Makes an edge out of the level whose rise it is, or whose fall.
#[track_caller]
pub(super) fn edge(of: Id, rises: bool) -> Id {
    let at = Location::caller();
    let turned = innermost(|b| b.place(Turnable::edge(at))).unwrap_or(false);
    if rises == turned { combine([of], |c, [of]| c.not(of)) } else { of }
}

/// Whether a field's polarity is the other one than the source declares.
pub(super) fn is_turned(slot: SlotId) -> bool {
    innermost(|b| b.slot(slot).is_some_and(|s| s.turned)).unwrap_or(false)
}

/// The name of a field of the innermost build.
pub(super) fn name(slot: SlotId) -> Option<String> {
    innermost(|b| b.slot(slot).map(|s| s.name.clone())).flatten()
}

/// Which side of a field is read.
#[derive(Clone, Copy, Debug)]
pub(super) enum Side {
    /// The wire at its contact.
    Wire,
    /// What it drives or holds.
    Own,
    /// The complementary output of what it holds.
    OwnInverted,
}

/// Reads a field.
#[track_caller]
pub(super) fn read(slot: SlotId, side: Side) -> Id {
    let at = Location::caller();
    innermost(|b| {
        let Some(&Slot { wire, own, .. }) = b.slot(slot) else {
            b.mistake(Mistake::ForeignSignal { origin: Origin::from(at) });
            return Id::LOW;
        };
        let c = &mut b.circuit;
        let made = match (side, wire, own) {
            (Side::Wire, Some(net), _) | (Side::Own, _, Own::Net(net)) => c.net(net),
            (Side::Own, _, Own::Element(e)) => c.q(e),
            (Side::OwnInverted, _, Own::Element(e)) => c.q_inverted(e),
            (Side::OwnInverted, _, Own::Net(net)) => {
                let level = c.net(net);
                c.not(level)
            }
            (Side::Wire, None, _) | (_, _, Own::Nothing) => Expr::LOW,
        };
        b.handle(made)
    })
    .unwrap_or(Id::NOWHERE)
}

/// The level of a net, or what a register or latch holds, in a circuit that stands already.
pub(super) fn level_of(read: impl FnOnce(&mut Build) -> Expr) -> Id {
    innermost(|b| {
        let made = read(b);
        b.handle(made)
    })
    .unwrap_or(Id::NOWHERE)
}

/// The expression behind a handle, in the circuit that is being built.
#[track_caller]
pub(super) fn expression(id: Id) -> Expr {
    let at = Location::caller();
    innermost(|b| b.expr(id, at)).unwrap_or(Expr::LOW)
}

/// A build that is under way. It ends when this is dropped, so a panic in a user's code leaves nothing behind.
#[derive(Debug)]
pub(super) struct Open {
    generation: u32,
}

impl Open {
    /// A circuit that stands already, to which only expressions are added.
    pub(super) fn over(circuit: circuit::Circuit) -> Self {
        let open = Open::new(&circuit.name, None);
        innermost(|b| {
            b.circuit = circuit;
            b.is_wired = true;
        });
        open
    }

    pub(super) fn new(name: &str, turn: Option<Turn>) -> Self {
        let generation = LAST.try_with(|last| {
            let next = last.get() % (NO_BUILD - 1) + 1;
            last.set(next);
            next
        });
        let generation = generation.unwrap_or(1);
        let build = Build {
            generation,
            circuit: circuit::Circuit::new(name),
            slots: Vec::new(),
            mistakes: Vec::new(),
            turn,
            places: Vec::new(),
            wires: Vec::new(),
            is_wired: false,
        };
        let _ = BUILDS.try_with(|b| b.borrow_mut().push(build));
        Open { generation }
    }

    /// What was built, and what of it could be turned round.
    pub(super) fn close(self) -> Result<(circuit::Circuit, Vec<Turnable>), BuildError> {
        let Some(build) = self.take() else {
            return Err(BuildError::new(String::new(), Vec::new()));
        };
        if !build.mistakes.is_empty() {
            return Err(BuildError::new(build.circuit.name, build.mistakes));
        }
        match build.circuit.check() {
            Ok(()) => Ok((build.circuit, build.places)),
            Err(malformed) => Err(BuildError::new(build.circuit.name, vec![malformed.into()])),
        }
    }

    /// What is wrong, with this as the last of it.
    pub(super) fn stop(self, mistake: Mistake) -> BuildError {
        let (name, mut mistakes) = self.take().map_or_else(Default::default, |b| (b.circuit.name, b.mistakes));
        mistakes.push(mistake);
        BuildError::new(name, mistakes)
    }

    fn take(&self) -> Option<Build> {
        let taken = BUILDS.try_with(|b| {
            let mut b = b.borrow_mut();
            let at = b.iter().position(|build| build.generation == self.generation)?;
            b.drain(at..).next()
        });
        taken.ok().flatten()
    }
}

impl Drop for Open {
    fn drop(&mut self) {
        drop(self.take());
    }
}
