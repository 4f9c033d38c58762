//! The circuits that are being built on this thread, and the handles into them.
use std::cell::{Cell, RefCell};
use std::marker::PhantomData;
use std::panic::Location;

use super::derived::Shape;
use super::error::{BuildError, Mistake};
use super::source::{Operand, Operator, Order, Plan, Stands, Turn, Turnable};
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
    /// Its place in its array, and how many elements that has.
    pub(super) array: Option<(usize, usize)>,
}

impl Slot {
    /// Whether a source could name the other one here: the same words, and the same place in an array as long.
    fn is_like(&self, other: &Slot) -> bool {
        let kind = |slot: &Slot| (slot.shape.contact.map(|(direction, _)| direction), slot.shape.holds);
        let is_bare = |slot: &Slot| slot.drivers.is_none();
        kind(self) == kind(other)
            && self.shape.polarity == other.shape.polarity
            && self.array == other.array
            && is_bare(self)
            && is_bare(other)
    }
}

/// One circuit that is being built.
#[derive(Debug)]
pub(super) struct Build {
    generation: u32,
    pub(super) circuit: circuit::Circuit,
    slots: Vec<Slot>,
    mistakes: Vec<Mistake>,
    /// What is taken otherwise than the source says.
    turns: Vec<Turn>,
    /// What could be.
    places: Vec<Turnable>,
    /// Whether all that could be is listed, and not only what is declared and edges.
    lists: bool,
    /// Words made of other words are being said: what they are made of is no place of a user's source.
    quiet: usize,
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
        let turned = self.turns.contains(&place.turn);
        if !self.places.contains(&place) {
            self.places.push(place);
        }
        turned
    }

    /// Whether this is turned of what a user wrote; if places are listed, it is one of them.
    fn turns(&mut self, turn: Turn, at: &'static Location<'static>, stands: impl FnOnce() -> Stands) -> bool {
        if self.quiet > 0 {
            return false;
        }
        if self.lists && !self.places.iter().any(|place| place.turn == turn) {
            self.places.push(Turnable { turn, origin: Origin::from(at), stands: stands() });
        }
        self.turns.contains(&turn)
    }

    /// The field that stands for this one where it is read.
    fn read_there(&mut self, id: SlotId, at: &'static Location<'static>) -> SlotId {
        if self.quiet > 0 || id.generation != self.generation || (!self.lists && self.turns.is_empty()) {
            return id;
        }
        let Some(own) = self.slots.get(id.index as usize).cloned() else { return id };
        let from = id.index as usize;
        if self.lists {
            for (to, other) in self.slots.iter().enumerate() {
                let delta = to as isize - from as isize;
                let turn = Turn::Read(at, delta);
                if delta != 0 && own.is_like(other) && !self.places.iter().any(|place| place.turn == turn) {
                    let stands = Stands::Field(own.name.clone(), other.name.clone());
                    self.places.push(Turnable { turn, origin: Origin::from(at), stands });
                }
            }
        }
        let mut index = from;
        for turn in self.turns.clone() {
            if let Turn::Read(place, delta) = turn
                && place == at
                && let Some(to) = from.checked_add_signed(delta)
                && self.slots.get(to).is_some_and(|other| own.is_like(other))
            {
                index = to;
            }
        }
        if let Some((i, length)) = own.array.filter(|(_, length)| *length > 1) {
            for order in [Order::Reversed, Order::Onwards, Order::Backwards] {
                let is_same = length == 2 && order != Order::Reversed;
                let to = from - i + order.of(i, length);
                let name = self.slots.get(to).map(|slot| slot.name.clone()).unwrap_or_default();
                let stands = || Stands::Field(own.name.clone(), name);
                if !is_same && self.turns(Turn::Order(at, order), at, stands) {
                    index = to;
                }
            }
        }
        SlotId { index: index as u32, ..id }
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

/// A word made of other words is being said, until this is dropped: nothing that is said within is a user's own.
#[derive(Debug)]
pub struct Quiet(());

/// Begins to say a word made of others.
pub fn quietly() -> Quiet {
    innermost(|b| b.quiet += 1);
    Quiet(())
}

impl Drop for Quiet {
    fn drop(&mut self) {
        innermost(|b| b.quiet = b.quiet.saturating_sub(1));
    }
}

/// What a user said in one word: a condition, or an inverted level.
#[track_caller]
pub(super) fn said(id: Id) -> Id {
    inverted_by(id, Turn::Not(Location::caller()))
}

/// The condition that a user gives to a word, by its place among those of this word.
#[track_caller]
pub(super) fn given(id: Id, place: u8) -> Id {
    inverted_by(id, Turn::Given(Location::caller(), place))
}

/// Inverted, if this is turned.
#[track_caller]
fn inverted_by(id: Id, turn: Turn) -> Id {
    let at = Location::caller();
    innermost(|b| {
        let made = b.expr(id, at);
        if b.turns(turn, at, || Stands::Expression(made)) {
            let inverted = b.circuit.not(made);
            return b.handle(inverted);
        }
        id
    })
    .unwrap_or(Id::NOWHERE)
}

/// Two conditions joined by an operator, as a user wrote it.
#[track_caller]
pub(super) fn joined(of: [Id; 2], by: Operator) -> Id {
    let at = Location::caller();
    let made = innermost(|b| {
        let [left, right] = of.map(|id| b.expr(id, at));
        let stands = || Stands::Joined(left, by, right);
        let mut is = by;
        for other in Operator::ALL.into_iter().filter(|other| *other != by) {
            if b.turns(Turn::Operator(at, other), at, stands) {
                is = other;
            }
        }
        let without = [Operand::Left, Operand::Right].map(|side| b.turns(Turn::Without(at, side), at, stands));
        let made = match (without, is) {
            ([true, _], _) => right,
            ([_, true], _) => left,
            (_, Operator::And) => b.circuit.and(left, right),
            (_, Operator::Or) => b.circuit.or(left, right),
            (_, Operator::Xor) => b.circuit.xor(left, right),
        };
        b.handle(made)
    });
    said(made.unwrap_or(Id::NOWHERE))
}

/// The number that a word of so many bits is compared with, as a user wrote it.
#[track_caller]
pub fn number(number: u64, bits: usize) -> u64 {
    let at = Location::caller();
    let flipped = innermost(|b| {
        let bits = (0..u64::BITS).take(bits);
        bits.filter(|&bit| b.turns(Turn::Number(at, bit), at, || Stands::Number(number))).fold(0, |n, bit| n | 1 << bit)
    });
    number ^ flipped.unwrap_or(0)
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
        let slot = b.read_there(slot, at);
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
        let open = Open::new(&circuit.name, Plan::Turned(&[]));
        innermost(|b| {
            b.circuit = circuit;
            b.is_wired = true;
        });
        open
    }

    pub(super) fn new(name: &str, plan: Plan<'_>) -> Self {
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
            turns: match plan {
                Plan::Listed => Vec::new(),
                Plan::Turned(turns) => turns.to_vec(),
            },
            places: Vec::new(),
            lists: plan == Plan::Listed,
            quiet: 0,
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
