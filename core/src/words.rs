//! The words of a circuit's source file, each with an example that runs.

/// A contact that is true while it is high.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     strobe: Input<ActiveHigh>,
///     #[contact(2)]
///     busy: Output<ActiveLow>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             busy: assert_while(self.strobe.asserted()),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (bench, _) = Simulator::new(&card, &[(1u16.into(), true)], |_, _| false)?;
/// assert_eq!(bench.shown(&2u16.into(), 0)?, Shown::Low);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "positive logic")]
pub use gluewright_kernel::ActiveHigh;

/// A contact that is true while it is low: its `asserted()` is the condition, its `level()` what a meter reads.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     read: Input<ActiveLow>,
///     #[contact(2)]
///     busy: Output<ActiveLow>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             busy: assert_while(!self.read.asserted()),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (mut bench, _) = Simulator::new(&card, &[(1u16.into(), true)], |_, _| false)?;
/// assert_eq!(bench.shown(&2u16.into(), 0)?, Shown::Low);
/// bench.event(&[(1u16.into(), false)])?;
/// assert_eq!(bench.shown(&2u16.into(), 0)?, Shown::High);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "inverted", alias = "bubble", alias = "negative logic")]
pub use gluewright_kernel::ActiveLow;

/// The truth of a condition, whatever level carries it: `&`, `|`, `^` and `!` join them.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     select: Input<ActiveLow>,
///     #[contact(2)]
///     read: Input<ActiveLow>,
///     #[contact(3)]
///     y: Output<ActiveLow>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             y: assert_while(self.select.asserted() & !self.read.asserted()),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (bench, _) = Simulator::new(&card, &[(2u16.into(), true)], |_, _| false)?;
/// assert_eq!(bench.shown(&3u16.into(), 0)?, Shown::Low);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "condition", alias = "boolean")]
pub use gluewright_kernel::Assertion;

/// An element that never leaves the device: it has no pin, so no driver to enable.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     clock: Input<Clock>,
///     #[contact(2)]
///     bit: Input<Data>,
///     #[contact(3)]
///     late: Output<Data>,
///     first: Buried<Register>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             first: on(self.clock.rises()).load(self.bit.level()),
///             late: on(self.clock.rises()).load(self.first.q()),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (mut bench, _) = Simulator::new(&card, &[(2u16.into(), true)], |_, _| false)?;
/// assert_eq!(bench.shown(&3u16.into(), 0)?, Shown::Low);
/// bench.event(&[(1u16.into(), true)])?;
/// assert_eq!(bench.shown(&3u16.into(), 0)?, Shown::Low);
/// bench.event(&[(1u16.into(), false)])?;
/// bench.event(&[(1u16.into(), true)])?;
/// assert_eq!(bench.shown(&3u16.into(), 0)?, Shown::High);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "internal", alias = "hidden node")]
pub use gluewright_kernel::Buried;

/// A contact whose edges count: it has edges and a level, and can't be taken for data by accident.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     clock: Input<Clock>,
///     #[contact(2)]
///     half: Output<Data>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             half: on(self.clock.rises()).toggle(),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (mut bench, _) = Simulator::new(&card, &[], |_, _| false)?;
/// assert_eq!(bench.shown(&2u16.into(), 0)?, Shown::Low);
/// bench.event(&[(1u16.into(), true)])?;
/// assert_eq!(bench.shown(&2u16.into(), 0)?, Shown::High);
/// bench.event(&[(1u16.into(), false)])?;
/// assert_eq!(bench.shown(&2u16.into(), 0)?, Shown::High);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "edge")]
pub use gluewright_kernel::Clock;

/// A contact that carries a bit and has no polarity: levels go in and out as they are.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     bit: Input<Data>,
///     #[contact(2)]
///     copy: Output<Data>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             copy: follow(self.bit.level()),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (bench, _) = Simulator::new(&card, &[(1u16.into(), true)], |_, _| false)?;
/// assert_eq!(bench.shown(&2u16.into(), 0)?, Shown::High);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "bit")]
pub use gluewright_kernel::Data;

/// A moment at which a register loads: a level that rises or falls, a condition that begins or ends.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     key: Input<ActiveLow>,
///     #[contact(2)]
///     stop: Input<ActiveHigh>,
///     #[contact(3)]
///     y: Output<Data>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             y: on((self.key.asserted() & !self.stop.asserted()).begins()).toggle(),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (mut bench, _) = Simulator::new(&card, &[(1u16.into(), true)], |_, _| false)?;
/// assert_eq!(bench.shown(&3u16.into(), 0)?, Shown::Low);
/// bench.event(&[(1u16.into(), false)])?;
/// assert_eq!(bench.shown(&3u16.into(), 0)?, Shown::High);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "clock edge", alias = "posedge", alias = "negedge")]
pub use gluewright_kernel::Edge;

/// A contact that the circuit drives at times and reads at others.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     write: Input<ActiveLow>,
///     #[contact(2)]
///     clock: Input<Clock>,
///     #[contact(3)]
///     bus: InOut<Data, ThreeState>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             bus: on(self.clock.rises()).load(self.bus.level()).drive_while(!self.write.asserted()),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (mut bench, _) = Simulator::new(&card, &[], |_, _| false)?;
/// assert_eq!(bench.shown(&3u16.into(), 0)?, Shown::Floating);
/// bench.event(&[(1u16.into(), true)])?;
/// assert_eq!(bench.shown(&3u16.into(), 0)?, Shown::Low);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "bidirectional", alias = "bus", alias = "inout")]
pub use gluewright_kernel::InOut;

/// A contact that the circuit only reads.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     hook: Input<ActiveLow>,
///     #[contact(2)]
///     lamp: Output<ActiveHigh>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             lamp: assert_while(self.hook.asserted()),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (bench, _) = Simulator::new(&card, &[], |_, _| false)?;
/// assert_eq!(bench.shown(&2u16.into(), 0)?, Shown::High);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "port", alias = "pin", alias = "in")]
pub use gluewright_kernel::Input;

/// A buried bit that follows while it is open.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     gate: Input<ActiveHigh>,
///     #[contact(2)]
///     a: Input<Data>,
///     #[contact(3)]
///     y: Output<Data>,
///     kept: Buried<Latch>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             kept: open_while(self.gate.asserted()).follow(self.a.level()),
///             y: follow(self.kept.q()),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (mut bench, _) = Simulator::new(&card, &[(1u16.into(), true), (2u16.into(), true)], |_, _| false)?;
/// assert_eq!(bench.shown(&3u16.into(), 0)?, Shown::High);
/// bench.event(&[(1u16.into(), false)])?;
/// bench.event(&[(2u16.into(), false)])?;
/// assert_eq!(bench.shown(&3u16.into(), 0)?, Shown::High);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "transparent latch", alias = "D latch")]
pub use gluewright_kernel::Latch;

/// What a meter reads on a wire. It becomes a condition only by saying which level asserts it.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     a: Input<Data>,
///     #[contact(2)]
///     y: Output<ActiveHigh>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             y: assert_while(self.a.level().is_low()),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (bench, _) = Simulator::new(&card, &[], |_, _| false)?;
/// assert_eq!(bench.shown(&2u16.into(), 0)?, Shown::High);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "voltage", alias = "wire")]
pub use gluewright_kernel::Level;

/// A buried name for a level: it holds nothing, and the fit may keep it as a macrocell of its own.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     a: Input<Data>,
///     #[contact(2)]
///     b: Input<Data>,
///     #[contact(3)]
///     y: Output<Data>,
///     odd: Buried<Node>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             odd: follow(high_while(self.a.level().differs_from(self.b.level()))),
///             y: follow(self.odd.level()),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (bench, _) = Simulator::new(&card, &[(1u16.into(), true)], |_, _| false)?;
/// assert_eq!(bench.shown(&3u16.into(), 0)?, Shown::High);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "net", alias = "wire", alias = "intermediate signal")]
pub use gluewright_kernel::Node;

/// Pulls low or floats: several may share a line.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     ask: Input<ActiveHigh>,
///     #[contact(2)]
///     irq: Output<ActiveLow, OpenCollector>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             irq: assert_while(self.ask.asserted()),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (mut bench, _) = Simulator::new(&card, &[], |_, _| false)?;
/// assert_eq!(bench.shown(&2u16.into(), 0)?, Shown::Floating);
/// bench.event(&[(1u16.into(), true)])?;
/// assert_eq!(bench.shown(&2u16.into(), 0)?, Shown::Low);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "open drain", alias = "wired OR")]
pub use gluewright_kernel::OpenCollector;

/// A contact that the circuit drives. Its second parameter says how: [`PushPull`] if nothing stands there.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     hook: Input<ActiveLow>,
///     #[contact(2)]
///     lamp: Output<ActiveLow>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             lamp: assert_while(self.hook.asserted()),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (bench, _) = Simulator::new(&card, &[], |_, _| false)?;
/// assert_eq!(bench.shown(&2u16.into(), 0)?, Shown::Low);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "port", alias = "pin", alias = "out")]
pub use gluewright_kernel::Output;

/// Drives high or low at all times; what an [`Output`] is if nothing else stands there.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     a: Input<Data>,
///     #[contact(2)]
///     y: Output<Data, PushPull>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             y: follow(self.a.level()),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (bench, _) = Simulator::new(&card, &[(1u16.into(), true)], |_, _| false)?;
/// assert_eq!(bench.shown(&2u16.into(), 0)?, Shown::High);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "totem pole")]
pub use gluewright_kernel::PushPull;

/// A buried bit that loads at an edge.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     clock: Input<Clock>,
///     #[contact(2)]
///     y: Output<Data>,
///     kept: Buried<Register>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             kept: on(self.clock.rises()).toggle(),
///             y: follow(self.kept.q_inverted()),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (mut bench, _) = Simulator::new(&card, &[], |_, _| false)?;
/// assert_eq!(bench.shown(&2u16.into(), 0)?, Shown::High);
/// bench.event(&[(1u16.into(), true)])?;
/// assert_eq!(bench.shown(&2u16.into(), 0)?, Shown::Low);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "flip-flop", alias = "flop", alias = "DFF")]
pub use gluewright_kernel::Register;

/// Drives while a condition holds and floats while it doesn't.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     read: Input<ActiveLow>,
///     #[contact(2)]
///     a: Input<Data>,
///     #[contact(3)]
///     y: Output<Data, ThreeState>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             y: follow(self.a.level()).drive_while(self.read.asserted()),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (mut bench, _) = Simulator::new(&card, &[], |_, _| false)?;
/// assert_eq!(bench.shown(&3u16.into(), 0)?, Shown::Low);
/// bench.event(&[(1u16.into(), true)])?;
/// assert_eq!(bench.shown(&3u16.into(), 0)?, Shown::Floating);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "tristate", alias = "output enable", alias = "high impedance")]
pub use gluewright_kernel::ThreeState;

/// Several bits as a number, bit 0 first: compared, counted, picked, shifted.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     clock: Input<Clock>,
///     #[contact(2, 3)]
///     count: [Output<Data>; 2],
///     #[contact(4)]
///     last: Output<ActiveHigh>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             count: {
///                 let next = Word::of(self.count).plus_one().bits();
///                 each(|i| on(self.clock.rises()).load(next[i]))
///             },
///             last: assert_while(Word::of(self.count).is(3)),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (mut bench, _) = Simulator::new(&card, &[], |_, _| false)?;
/// assert_eq!(bench.shown(&4u16.into(), 0)?, Shown::Low);
/// bench.event(&[(1u16.into(), true)])?;
/// assert_eq!(bench.shown(&2u16.into(), 0)?, Shown::High);
/// assert_eq!(bench.shown(&3u16.into(), 0)?, Shown::Low);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "bus", alias = "vector", alias = "counter", alias = "comparator", alias = "adder")]
pub use gluewright_kernel::Word;

/// True while every condition is.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1, 2)]
///     key: [Input<ActiveLow>; 2],
///     #[contact(3)]
///     y: Output<ActiveHigh>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             y: assert_while(all_of(self.key.map(|k| k.asserted()))),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (mut bench, _) = Simulator::new(&card, &[], |_, _| false)?;
/// assert_eq!(bench.shown(&3u16.into(), 0)?, Shown::High);
/// bench.event(&[(1u16.into(), true)])?;
/// assert_eq!(bench.shown(&3u16.into(), 0)?, Shown::Low);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "and", alias = "conjunction")]
pub use gluewright_kernel::all_of;

/// True while any condition is.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1, 2)]
///     key: [Input<ActiveLow>; 2],
///     #[contact(3)]
///     y: Output<ActiveHigh>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             y: assert_while(any_of(self.key.map(|k| k.asserted()))),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (mut bench, _) = Simulator::new(&card, &[(1u16.into(), true), (2u16.into(), true)], |_, _| false)?;
/// assert_eq!(bench.shown(&3u16.into(), 0)?, Shown::Low);
/// bench.event(&[(2u16.into(), false)])?;
/// assert_eq!(bench.shown(&3u16.into(), 0)?, Shown::High);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "or", alias = "disjunction")]
pub use gluewright_kernel::any_of;

/// An output or a buried element with polarity, true while a condition is; which level that is, its type knows.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     a: Input<ActiveLow>,
///     #[contact(2)]
///     y: Output<ActiveLow>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             y: assert_while(self.a.asserted()),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (bench, _) = Simulator::new(&card, &[], |_, _| false)?;
/// assert_eq!(bench.shown(&2u16.into(), 0)?, Shown::Low);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "drive")]
pub use gluewright_kernel::assert_while;

/// The first while the condition is true, else the second: a multiplexer of levels, conditions or words.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     pick: Input<ActiveHigh>,
///     #[contact(2)]
///     a: Input<Data>,
///     #[contact(3)]
///     b: Input<Data>,
///     #[contact(4)]
///     y: Output<Data>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             y: follow(choose(self.pick.asserted(), self.a.level(), self.b.level())),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (mut bench, _) = Simulator::new(&card, &[(1u16.into(), true), (2u16.into(), true)], |_, _| false)?;
/// assert_eq!(bench.shown(&4u16.into(), 0)?, Shown::High);
/// bench.event(&[(1u16.into(), false)])?;
/// assert_eq!(bench.shown(&4u16.into(), 0)?, Shown::Low);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "multiplexer", alias = "select", alias = "if")]
pub use gluewright_kernel::choose;

/// The definitions of an array's outputs, one for each index.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1, 2)]
///     a: [Input<Data>; 2],
///     #[contact(3, 4)]
///     y: [Output<Data>; 2],
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             y: each(|i| follow(self.a[1 - i].level())),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (bench, _) = Simulator::new(&card, &[(1u16.into(), true)], |_, _| false)?;
/// assert_eq!(bench.shown(&3u16.into(), 0)?, Shown::Low);
/// assert_eq!(bench.shown(&4u16.into(), 0)?, Shown::High);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "array", alias = "generate", alias = "for")]
pub use gluewright_kernel::each;

/// An output that carries a level.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     a: Input<Data>,
///     #[contact(2)]
///     y: Output<Data>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             y: follow(!self.a.level()),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (bench, _) = Simulator::new(&card, &[], |_, _| false)?;
/// assert_eq!(bench.shown(&2u16.into(), 0)?, Shown::High);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "assign", alias = "buffer")]
pub use gluewright_kernel::follow;

/// The level that is high while a condition is true.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     a: Input<ActiveLow>,
///     #[contact(2)]
///     y: Output<Data>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             y: follow(high_while(self.a.asserted())),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (bench, _) = Simulator::new(&card, &[], |_, _| false)?;
/// assert_eq!(bench.shown(&2u16.into(), 0)?, Shown::High);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "level of a condition")]
pub use gluewright_kernel::high_while;

/// The level that is low while a condition is true.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     a: Input<ActiveLow>,
///     #[contact(2)]
///     y: Output<Data>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             y: follow(low_while(self.a.asserted())),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (bench, _) = Simulator::new(&card, &[], |_, _| false)?;
/// assert_eq!(bench.shown(&2u16.into(), 0)?, Shown::Low);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "level of a condition")]
pub use gluewright_kernel::low_while;

/// A register that loads at an edge: `load`, `load_if`, `toggle`, `jk`, with clear, preset and drive after it.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     clock: Input<Clock>,
///     #[contact(2)]
///     reset: Input<ActiveLow>,
///     #[contact(3)]
///     a: Input<Data>,
///     #[contact(4)]
///     y: Output<Data>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             y: on(self.clock.falls()).load(self.a.level()).clear_while(self.reset.asserted()),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (mut bench, _) = Simulator::new(&card, &[(1u16.into(), true), (2u16.into(), true), (3u16.into(), true)], |_, _| false)?;
/// assert_eq!(bench.shown(&4u16.into(), 0)?, Shown::Low);
/// bench.event(&[(1u16.into(), false)])?;
/// assert_eq!(bench.shown(&4u16.into(), 0)?, Shown::High);
/// bench.event(&[(2u16.into(), false)])?;
/// assert_eq!(bench.shown(&4u16.into(), 0)?, Shown::Low);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "always", alias = "process", alias = "register", alias = "flip-flop", alias = "clocked")]
pub use gluewright_kernel::on;

/// A latch that follows while a condition is true and holds while it isn't.
///
/// ```
/// use gluewright::prelude::*;
/// use gluewright::simulate::{Shown, Simulator};
///
/// #[derive(Circuit)]
/// struct Card {
///     #[contact(1)]
///     hold: Input<ActiveLow>,
///     #[contact(2)]
///     a: Input<Data>,
///     #[contact(3)]
///     y: Output<Data>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring {
///             y: open_while(!self.hold.asserted()).follow(self.a.level()),
///         }
///     }
/// }
///
/// let card = gluewright::circuit_of::<Card>()?;
/// let (mut bench, _) = Simulator::new(&card, &[(1u16.into(), true), (2u16.into(), true)], |_, _| false)?;
/// assert_eq!(bench.shown(&3u16.into(), 0)?, Shown::High);
/// bench.event(&[(1u16.into(), false)])?;
/// bench.event(&[(2u16.into(), false)])?;
/// assert_eq!(bench.shown(&3u16.into(), 0)?, Shown::High);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "latch enable", alias = "transparent")]
pub use gluewright_kernel::open_while;

/// True while the card drives a contact, or any contact of an array: for properties and assumptions.
///
/// ```
/// use gluewright::prelude::*;
///
/// #[derive(Circuit)]
/// #[contacts(read: 1, write: 2, value: 3, bus: 4)]
/// struct Card {
///     read: Input<ActiveLow>,
///     write: Input<ActiveLow>,
///     value: Input<Data>,
///     bus: Output<Data, ThreeState>,
/// }
///
/// impl Wiring for Card {
///     fn wire(&self) -> CardWiring {
///         CardWiring { bus: follow(self.value.level()).drive_while(self.read.asserted() & !self.write.asserted()) }
///     }
/// }
///
/// // the host drives the bus while it writes
/// prove::<Card>().that(|c| never(drives(c.bus) & c.write.asserted())).run()?;
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias = "output enable", alias = "bus contention")]
pub use gluewright_kernel::drives;
