//! How to read the compiler's messages.
//!
//! Most mistakes in a circuit get a first line in the words of the trade: *a buried element cannot be given an output
//! enable*. Below it stand a label at the place, and notes that say the mend. What comes after `note: required by a
//! bound in …` shows this crate's own source, and can be left alone.
//!
//! Some mistakes are found by rustc in its own words. This page says what they mean here.
//!
//! # `a condition is needed on the left`
//!
//! ```text
//! wait: assert_while(self.reset & self.strobe.asserted()),
//!                               ^ `Input<ActiveLow>` stands on the left, and is not a condition
//! ```
//!
//! A contact stands bare on the left of `&`, `|` or `^`. A contact is not a condition: say which level asserts it, with
//! `self.reset.asserted()`, or with `self.a.level().is_low()` for data. The same goes for `Buried<…>`: a register's
//! condition is `self.seen.q().is_high()`, a flag's `self.fresh.asserted()`. (On the right of `&` the same mistake says *a
//! condition is needed here*.) After a `!` it is called `Inverted<Input<ActiveLow>>`: write `!self.reset.asserted()` for
//! *while the reset is not asserted*.
//!
//! A `Level` on the left is the same: levels have no and, or. Whether a low or a high level means *true* is what a
//! schematic's bubbles say. Say it: `self.a.level().is_high() & self.b.level().is_high()`. A level is made of a condition by
//! `high_while(…)` and `low_while(…)`.
//!
//! # ``no method named `is_high` found for struct `Input<ActiveLow>` ``
//!
//! The same mistake again: a contact or a register is not a level yet. `self.read.asserted()` is true while a contact that
//! is low when true is low; `self.read.level().is_high()` speaks of the level, whatever it means, and is right for data:
//! `self.gauge[0].level().is_high()`, `self.seen.q().is_high()`.
//!
//! # ``binary operation `==` cannot be applied to type `Level` ``
//!
//! `==` compares values while the program runs, and a circuit has none then: the program only describes it. Two levels
//! are compared by `a.same_as(b)` and `a.differs_from(b)`, words by `a.equals(b)`, a word and a number by `a.is(5)`.
//!
//! # ``expected `bool`, found `Assertion` ``
//!
//! rustc says it once for each side of a `&&`. `&&`, `||`, `if` and `while` decide something while the circuit is described. What the circuit decides while it runs
//! is written with `&`, `|`, `^` and `!`, and a choice with
//! [`choose(condition, this, other)`](super::choose). `if` is right where the description itself has a choice, for
//! instance `if i == 0 { … }` within [`each`](super::each).
//!
//! # ``missing field `seen` in initializer of `CardWiring` ``
//!
//! An output or a buried element has no definition. The wiring has one field for each of them.
//!
//! # ``struct `CardWiring` has no field named `a` ``
//!
//! Nothing of that name can be defined: it is an input, which the board drives, or the name is misspelt.
//!
//! # ``field `wait` specified more than once``
//!
//! An output has two definitions. Join them in one: `assert_while(this | that)`.
//!
//! # ``expected `Definition<…>`, found `Level` ``
//!
//! A level or a condition stands where a definition belongs. A gate is written `follow(level)` or
//! `assert_while(condition)`. With *found `Clocked`*, it is still to be said what the register loads: `on(…).load(…)`;
//! with *found `Opened`*, what the latch follows: `open_while(…).follow(…)`.
//!
//! # ``expected `Word<4>`, found `[Input<Data>; 4]` ``
//!
//! An array of contacts stands where a number is needed: `Word::of(self.preset)`. A number that is written as such is
//! `Word::number(9)`.
//!
//! # ``expected `[Definition<…>; 4]`, found `Definition<_>` ``
//!
//! The field is an array: write `each(|i| …)`, which makes one definition for each element.
//!
//! # ``unused `Definition` that must be used``
//!
//! A definition that stands alone defines nothing. It belongs in a field of the wiring.
//!
//! # ``use of moved value: `seen` ``
//!
//! ```text
//! let seen = on(clock).load(self.a.level());
//! seen.clear_while(reset);
//! ---- value moved here
//! ```
//!
//! Each word added to a definition gives a new one. Write it in one go, or keep what comes out: `let seen =
//! seen.clear_while(reset);`.
//!
//! # ``cannot index into a value of type `Counting<4>` ``
//!
//! A counter or shift register of the idioms is what it does; the word that its registers load is `counter.next()`, and one
//! bit of that is `counter.next()[i]`.
//!
//! # ``the trait bound `Word<4>: …` is not satisfied``, at `load` or `follow`
//!
//! A word stands where one bit belongs. An array of elements takes one definition for each:
//! `count: each(|i| on(clock).load(next[i]))`.
//!
//! # `type annotations needed for Definition<_>`
//!
//! A definition takes its type from the field of the wiring that it fills. In a function of one's own the type stands
//! in its signature, for instance `-> Definition<Buried<Register>>`; on a `let` it stands behind the name.
//!
//! # `` `*const ()` cannot be sent between threads safely``
//!
//! Signals belong to the circuit that is being described, on its thread. Describe a circuit on one thread.
//!
//! # ``evaluation panicked: `gauge` has 4 elements, but 5 contacts are given``
//!
//! The length of an array is a constant with a name, and `#[contact(…)]` lists more or fewer contacts than that.
//!
//! # ``expected non-macro attribute, found attribute macro `contact` ``
//!
//! `#[derive(Circuit)]` is missing above the struct. Everything else that is said then, *cannot find type `CardWiring`*
//! above all, comes of it. (A table, `#[contacts(…)]`, says it in one error.)
//!
//! # `` `contacts` is ambiguous``
//!
//! `#[contacts(…)]` or `#[circuit(…)]` stands above `#[derive(Circuit)]`: the derive comes first.
//!
//! # ``the trait bound `Input<Data>: Default` is not satisfied``
//!
//! `derive(Default)` stands beside `Circuit`, and rustc says so at each field. A circuit's fields have no values: leave
//! `Default` out.
//!
//! # `this does not say what a contact carries`, and the word is right
//!
//! A type of your own is called `Data`, `Clock`, `Register` or another of the crate's words, and stands in front of it.
//! Rename yours, or write `gluewright::signals::Data`.
//!
//! # Mistakes that only building finds
//!
//! A few mistakes don't show in types: a three-state output that is never told when it drives, a gate that is cleared, a
//! number that doesn't fit its word, a signal that was kept from another build, an index that an array doesn't have. [`build`](super::build) reports all of
//! them at once, as a [`BuildError`](super::BuildError) with file, line and mend.
