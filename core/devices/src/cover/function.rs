//! A function to be covered: where it must be high, where it may be either, low elsewhere.
use super::cube::{Cube, MAX_INPUTS};
use super::error::CoverError;
use super::list::Cover;
use super::recursion;
use super::table::{MAX_TABLE_INPUTS, Table, irredundant};

/// What a function asks for at a minterm.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Value {
    /// Low.
    Low,
    /// High.
    High,
    /// Either.
    DontCare,
}

/// A function of one output. It is high where `on` holds, may be either where only `dont_care` holds, and is low
/// elsewhere: where both hold it is high.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Function {
    on: Cover,
    dont_care: Cover,
}

impl Function {
    /// The function that is high where `on` holds and free where only `dont_care` does.
    ///
    /// # Errors
    /// [`CoverError::DifferentInputs`].
    pub fn new(on: Cover, dont_care: Cover) -> Result<Function, CoverError> {
        on.same_inputs(&dont_care)?;
        Ok(Function { on, dont_care })
    }

    /// The function that a sum of terms stands for, without don't-cares.
    pub fn from_cover(on: Cover) -> Function {
        let dont_care = Cover::of(on.inputs(), Vec::new());
        Function { on, dont_care }
    }

    /// The function that is high where `on` holds, low where `off` holds and free elsewhere.
    ///
    /// # Errors
    /// [`CoverError::Contradiction`] if both hold somewhere; [`CoverError::DifferentInputs`];
    /// [`CoverError::TooManyTerms`] if what lies between is too wide.
    pub fn from_on_off(on: Cover, off: Cover) -> Result<Function, CoverError> {
        let fixed = on.union(&off)?;
        if let Some(at) = on.overlap(&off) {
            return Err(CoverError::Contradiction { at });
        }
        Ok(Function { on, dont_care: fixed.complement()? })
    }

    /// The function with these values at minterms 0, 1, 2, …
    ///
    /// # Errors
    /// [`CoverError::TooManyInputs`] above 20 inputs.
    pub fn from_fn(inputs: u32, mut value: impl FnMut(u64) -> Value) -> Result<Function, CoverError> {
        check_table(inputs)?;
        let mut dont_care = Table::zero(inputs);
        let on = Table::from_fn(inputs, |m| match value(m) {
            Value::Low => false,
            Value::High => true,
            Value::DontCare => {
                dont_care.set(m);
                false
            }
        });
        dont_care.repeat();
        Ok(Function::of_tables(&on, &dont_care))
    }

    /// The function of truth tables: bit `m mod 64` of word `m / 64` is the level at minterm `m`. Below six inputs the
    /// upper bits of the one word are ignored.
    ///
    /// # Errors
    /// [`CoverError::TooManyInputs`] above 20 inputs, [`CoverError::TableSize`].
    pub fn from_tables(inputs: u32, on: &[u64], dont_care: &[u64]) -> Result<Function, CoverError> {
        check_table(inputs)?;
        let expected = 1usize << inputs.saturating_sub(6);
        for words in [on.len(), dont_care.len()] {
            if words != expected {
                return Err(CoverError::TableSize { inputs, words, expected });
            }
        }
        let table = |words: &[u64]| {
            let mut table = Table { inputs, words: words.to_vec() };
            table.repeat();
            table
        };
        Ok(Function::of_tables(&table(on), &table(dont_care)))
    }

    fn of_tables(on: &Table, dont_care: &Table) -> Function {
        let cover = |table: &Table| Cover::of(table.inputs, irredundant(table, table));
        Function { on: cover(on), dont_care: cover(dont_care) }
    }

    /// The number of inputs.
    pub fn inputs(&self) -> u32 {
        self.on.inputs()
    }

    /// Where it must be high.
    pub fn on(&self) -> &Cover {
        &self.on
    }

    /// Where it may be either, unless [`Function::on`] holds too.
    pub fn dont_care(&self) -> &Cover {
        &self.dont_care
    }

    /// Where it may be high: a sum of terms.
    pub fn allowed(&self) -> Cover {
        let cubes = [self.on.cubes(), self.dont_care.cubes()].concat();
        Cover::of(self.inputs(), recursion::absorb(cubes))
    }

    /// Where it must be low.
    ///
    /// # Errors
    /// [`CoverError::TooManyTerms`].
    pub fn off(&self) -> Result<Cover, CoverError> {
        self.allowed().complement()
    }

    /// The function that is high where this one is low, with the same freedom.
    ///
    /// # Errors
    /// [`CoverError::TooManyTerms`].
    pub fn complemented(&self) -> Result<Function, CoverError> {
        let dont_care = self.dont_care.minus(&self.on)?;
        Ok(Function { on: self.off()?, dont_care })
    }

    /// What it asks for at a minterm.
    pub fn value(&self, minterm: u64) -> Value {
        if self.on.holds(minterm) {
            Value::High
        } else if self.dont_care.holds(minterm) {
            Value::DontCare
        } else {
            Value::Low
        }
    }

    /// Checks that a cover does what the function asks: `None` if so, else a place where it doesn't and the level that
    /// it should have had there.
    pub fn difference(&self, cover: &Cover) -> Option<(Cube, bool)> {
        if let Some(missed) = self.on.cubes().iter().find_map(|&c| cover.gap(c)) {
            return Some((missed, true));
        }
        let allowed = self.allowed();
        cover.cubes().iter().find_map(|&c| allowed.gap(c)).map(|wrong| (wrong, false))
    }
}

fn check_table(inputs: u32) -> Result<(), CoverError> {
    if inputs <= MAX_TABLE_INPUTS {
        Ok(())
    } else if inputs <= MAX_INPUTS {
        Err(CoverError::TooManyInputs { inputs, most: MAX_TABLE_INPUTS })
    } else {
        Err(CoverError::TooManyInputs { inputs, most: MAX_INPUTS })
    }
}
