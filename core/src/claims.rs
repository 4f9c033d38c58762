//! The words of a proof, each with an example that runs.

/// Assumes of the board that this is never so.
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
