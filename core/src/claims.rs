//! The words of a proof, each with an example that runs.

/// Assumes of the board that this is never so; given to [`that`](gluewright_kernel::prove::Claim::that), claims it of the card.
///
/// ```
/// use gluewright::prelude::*;
/// # use gluewright::prove::Question;
/// # #[derive(Circuit)]
/// # struct Either {
/// #     #[contact(1)]
/// #     up: Input<ActiveHigh>,
/// #     #[contact(2)]
/// #     down: Input<ActiveHigh>,
/// #     #[contact(3)]
/// #     moves: Output<ActiveHigh>,
/// # }
/// # impl Wiring for Either {
/// #     fn wire(&self) -> EitherWiring {
/// #         EitherWiring { moves: assert_while(self.up.asserted() | self.down.asserted()) }
/// #     }
/// # }
/// # #[derive(Circuit)]
/// # struct Differs {
/// #     #[contact(1)]
/// #     up: Input<ActiveHigh>,
/// #     #[contact(2)]
/// #     down: Input<ActiveHigh>,
/// #     #[contact(3)]
/// #     moves: Output<ActiveHigh>,
/// # }
/// # impl Wiring for Differs {
/// #     fn wire(&self) -> DiffersWiring {
/// #         DiffersWiring { moves: assert_while(self.up.asserted() ^ self.down.asserted()) }
/// #     }
/// # }
/// // OR and exclusive OR differ only while both keys are down
/// let original = gluewright::circuit_of::<Either>()?;
/// assert!(prove::<Differs>().against(&original).run().is_err());
/// prove::<Differs>().assuming(|c| never(c.up.asserted() & c.down.asserted())).against(&original).run()?;
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias("assumption", "constraint"))]
pub use gluewright_kernel::never;

/// Assumes of the board that this is always so: [`never()`] the other way round.
#[doc(alias("assumption", "constraint", "invariant"))]
pub use gluewright_kernel::always;

/// Assumes of the board that a level changes only while a condition is true.
#[doc(alias("handshake", "stable"))]
pub use gluewright_kernel::changes_only_while;

/// Assumes of the board that a level goes high only while a condition is true.
#[doc(alias("handshake"))]
pub use gluewright_kernel::goes_high_only_while;

/// Assumes of the board that a level goes low only while a condition is true.
#[doc(alias("handshake"))]
pub use gluewright_kernel::goes_low_only_while;

/// The circuit that a source describes, to be simulated, fitted or compared.
///
/// ```
/// use gluewright::prelude::*;
///
/// #[derive(Circuit)]
/// struct Lamp {
///     #[contact(1)]
///     hook: Input<ActiveLow>,
///     #[contact(2)]
///     lamp: Output<ActiveHigh>,
/// }
///
/// impl Wiring for Lamp {
///     fn wire(&self) -> LampWiring {
///         LampWiring { lamp: assert_while(self.hook.asserted()) }
///     }
/// }
///
/// let lamp = gluewright::circuit_of::<Lamp>()?;
/// assert_eq!(lamp.contacts().iter().map(|c| c.name.as_str()).collect::<Vec<_>>(), ["hook", "lamp"]);
/// # Ok::<(), gluewright::BuildError>(())
/// ```
#[doc(alias("elaborate", "build"))]
pub use gluewright_kernel::circuit_of;

/// Claims of a card or board that something holds after an edge.
///
/// ```
/// use gluewright::prelude::*;
/// # #[derive(Circuit)]
/// # #[contacts(clock: 1, set: 2, lamp: 3)]
/// # struct Lamp {
/// #     clock: Input<Clock>,
/// #     set: Input<ActiveHigh>,
/// #     lamp: Output<ActiveLow>,
/// # }
/// # impl Wiring for Lamp {
/// #     fn wire(&self) -> LampWiring {
/// #         LampWiring { lamp: on(self.clock.rises()).load(self.set.asserted()) }
/// #     }
/// # }
/// let lit = |c: &Lamp| after(c.clock.rises()).when(c.set.asserted()).holds(c.lamp.asserted());
/// prove::<Lamp>().that(lit).run()?;
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias("property", "assertion"))]
pub use gluewright_kernel::after;

/// Claims of a card or board that whenever one condition holds another one does, or comes within so many edges, or stays until a third.
///
/// ```
/// use gluewright::prelude::*;
/// # #[derive(Circuit)]
/// # #[contacts(clock: 1, set: 2, lamp: 3)]
/// # struct Lamp {
/// #     clock: Input<Clock>,
/// #     set: Input<ActiveHigh>,
/// #     lamp: Output<ActiveLow>,
/// # }
/// # impl Wiring for Lamp {
/// #     fn wire(&self) -> LampWiring {
/// #         LampWiring { lamp: on(self.clock.rises()).load(self.set.asserted()) }
/// #     }
/// # }
/// // it may be taken back before the edge: then nothing is owed
/// let within = |c: &Lamp| whenever(c.set.asserted()).within(1, c.clock.rises()).holds(c.lamp.asserted() | !c.set.asserted());
/// prove::<Lamp>().that(within).run()?;
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias("property", "implies", "eventually"))]
pub use gluewright_kernel::whenever;

/// Claims of a card or board that one condition holds only while another does.
///
/// ```
/// use gluewright::prelude::*;
/// # #[derive(Circuit)]
/// # #[contacts(clock: 1, set: 2, lamp: 3)]
/// # struct Lamp {
/// #     clock: Input<Clock>,
/// #     set: Input<ActiveHigh>,
/// #     lamp: Output<ActiveLow>,
/// # }
/// # impl Wiring for Lamp {
/// #     fn wire(&self) -> LampWiring {
/// #         LampWiring { lamp: on(self.clock.rises()).load(self.set.asserted()) }
/// #     }
/// # }
/// // the lamp stays on when `set` has ended: refuted, with a sequence
/// let only = |c: &Lamp| true_only_while(c.lamp.asserted(), c.set.asserted());
/// assert!(prove::<Lamp>().that(only).run().is_err());
/// ```
#[doc(alias("property", "implies"))]
pub use gluewright_kernel::true_only_while;

/// Claims of a card or board that something can happen; the verdict has the shortest run to it.
///
/// ```
/// use gluewright::prelude::*;
/// # #[derive(Circuit)]
/// # #[contacts(clock: 1, set: 2, lamp: 3)]
/// # struct Lamp {
/// #     clock: Input<Clock>,
/// #     set: Input<ActiveHigh>,
/// #     lamp: Output<ActiveLow>,
/// # }
/// # impl Wiring for Lamp {
/// #     fn wire(&self) -> LampWiring {
/// #         LampWiring { lamp: on(self.clock.rises()).load(self.set.asserted()) }
/// #     }
/// # }
/// prove::<Lamp>().that(|c| reachable(c.lamp.asserted() & !c.set.asserted())).run()?;
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias("property", "cover", "witness"))]
pub use gluewright_kernel::reachable;

/// Starts claims about a traced board, or a device lifted from its fuses, by itself; the guide's page
/// [`properties`](crate::guide::properties) has an example.
#[doc(alias("property"))]
pub use gluewright_kernel::prove_of;

/// The circuit that a source with parameters describes, for these values.
///
/// ```
/// use gluewright::prelude::*;
///
/// /// Divides its clock.
/// #[derive(Circuit)]
/// #[contacts(clock: 1, q: 2..=5)]
/// struct Divider {
///     clock: Input<Clock>,
///     q: [Output<Data>; 4],
///     /// After so many edges it begins again.
///     #[parameter]
///     count: u64,
/// }
///
/// impl Wiring for Divider {
///     fn wire(&self) -> DividerWiring {
///         let q = Word::of(self.q);
///         let next = choose(q.is(self.count - 1), Word::number(0), q.plus_one());
///         DividerWiring { q: each(|i| on(self.clock.rises()).load(next.bits()[i])) }
///     }
/// }
///
/// for count in 2..=16 {
///     let parameters = DividerParameters { count };
///     let original = gluewright::circuit_for::<Divider>(parameters.clone())?;
///     prove::<Divider>().with(parameters).against(&original).run()?;
/// }
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[doc(alias("elaborate", "generic", "variant"))]
pub use gluewright_kernel::circuit_for;
