//! A sum of product terms, and what can be asked of it.
use super::cube::{Cube, MAX_INPUTS, bits, mask};
use super::error::CoverError;
use super::recursion;
use super::table::{MAX_DENSE_INPUTS, Table, irredundant};

/// The most terms that an operation works with on its way.
pub const MAX_TERMS: usize = 1 << 16;

/// A sum of product terms over a number of inputs. Terms that no term needs may be in it.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Cover {
    inputs: u32,
    cubes: Vec<Cube>,
}

impl Cover {
    /// The sum of these terms over inputs 0 to `inputs` − 1.
    ///
    /// # Errors
    /// [`CoverError::TooManyInputs`] above 64; [`CoverError::UnknownInput`] if a term reads another input.
    pub fn new(inputs: u32, cubes: Vec<Cube>) -> Result<Cover, CoverError> {
        if inputs > MAX_INPUTS {
            return Err(CoverError::TooManyInputs { inputs, most: MAX_INPUTS });
        }
        for (term, c) in cubes.iter().enumerate() {
            if let Some(input) = bits(c.care() & !mask(inputs)).next() {
                return Err(CoverError::UnknownInput { term, input, inputs });
            }
        }
        Ok(Cover { inputs, cubes })
    }

    /// For terms that are known to read existing inputs only.
    pub(super) fn of(inputs: u32, cubes: Vec<Cube>) -> Cover {
        Cover { inputs, cubes }
    }

    /// The number of inputs.
    pub fn inputs(&self) -> u32 {
        self.inputs
    }

    /// The terms.
    pub fn cubes(&self) -> &[Cube] {
        &self.cubes
    }

    /// The number of terms.
    pub fn len(&self) -> usize {
        self.cubes.len()
    }

    /// Whether it has no term: it is low everywhere.
    pub fn is_empty(&self) -> bool {
        self.cubes.is_empty()
    }

    /// The number of literals of all terms together.
    pub fn literals(&self) -> u32 {
        self.cubes.iter().map(|c| c.literals()).sum()
    }

    /// The inputs that some term reads.
    pub fn support(&self) -> u64 {
        self.cubes.iter().fold(0, |all, c| all | c.care())
    }

    /// Whether some term holds at a minterm.
    pub fn holds(&self, minterm: u64) -> bool {
        self.cubes.iter().any(|c| c.holds(minterm))
    }

    /// The sum as seen where `by` holds; it doesn't read the inputs of `by`.
    pub fn cofactor(&self, by: Cube) -> Cover {
        Cover { inputs: self.inputs, cubes: self.cubes.iter().filter_map(|c| c.cofactor(by)).collect() }
    }

    /// Whether it holds everywhere.
    pub fn is_tautology(&self) -> bool {
        self.gap(Cube::ONE).is_none()
    }

    /// Whether it holds everywhere in `cube`.
    pub fn contains(&self, cube: Cube) -> bool {
        self.gap(cube).is_none()
    }

    /// Whether it holds wherever `other` does.
    pub fn contains_all(&self, other: &Cover) -> bool {
        other.cubes.iter().all(|&c| self.contains(c))
    }

    /// Some part of `cube` where it holds nowhere, if there is one.
    pub fn gap(&self, cube: Cube) -> Option<Cube> {
        recursion::gap(cube, &self.cubes)
    }

    /// Whether both are the same function.
    pub fn is_equivalent(&self, other: &Cover) -> bool {
        self.contains_all(other) && other.contains_all(self)
    }

    /// A place where both hold, if they aren't disjoint.
    pub fn overlap(&self, other: &Cover) -> Option<Cube> {
        self.cubes.iter().find_map(|a| other.cubes.iter().find_map(|b| a.intersection(*b)))
    }

    /// The sum of both.
    ///
    /// # Errors
    /// [`CoverError::DifferentInputs`].
    pub fn union(&self, other: &Cover) -> Result<Cover, CoverError> {
        self.same_inputs(other)?;
        Ok(Cover { inputs: self.inputs, cubes: recursion::absorb([&self.cubes[..], &other.cubes].concat()) })
    }

    /// The sum that holds where both do.
    ///
    /// # Errors
    /// [`CoverError::DifferentInputs`].
    pub fn intersection(&self, other: &Cover) -> Result<Cover, CoverError> {
        self.same_inputs(other)?;
        let cubes = self.cubes.iter().flat_map(|a| other.cubes.iter().filter_map(|b| a.intersection(*b))).collect();
        Ok(Cover { inputs: self.inputs, cubes: recursion::absorb(cubes) })
    }

    /// The sum that holds where this one does and `other` doesn't.
    ///
    /// # Errors
    /// [`CoverError::DifferentInputs`], [`CoverError::TooManyTerms`].
    pub fn minus(&self, other: &Cover) -> Result<Cover, CoverError> {
        self.same_inputs(other)?;
        let mut cubes = Vec::new();
        for &c in &self.cubes {
            let fits = recursion::gaps(c, &other.cubes, &mut |part| {
                cubes.push(part);
                cubes.len() <= MAX_TERMS
            });
            if !fits {
                return Err(CoverError::TooManyTerms { limit: MAX_TERMS });
            }
        }
        Ok(Cover { inputs: self.inputs, cubes: recursion::absorb(cubes) })
    }

    /// A sum that holds where this one doesn't. Not minimal.
    ///
    /// # Errors
    /// [`CoverError::TooManyTerms`] if more than [`MAX_TERMS`] come up: a sum of sixteen disjoint pairs has a complement
    /// of 65536 terms.
    pub fn complement(&self) -> Result<Cover, CoverError> {
        self.complement_within(MAX_TERMS)
    }

    /// A sum that holds where this one doesn't, as long as no more than `limit` terms come up on the way.
    ///
    /// # Errors
    /// [`CoverError::TooManyTerms`].
    pub fn complement_within(&self, limit: usize) -> Result<Cover, CoverError> {
        let frame = Frame::of(self.support());
        let packed = frame.pack_all(&self.cubes);
        let cubes = if frame.inputs() <= MAX_DENSE_INPUTS && packed.len() > 1 {
            let mut table = Table::of(frame.inputs(), &packed);
            table.words.iter_mut().for_each(|w| *w = !*w);
            Some(irredundant(&table, &table)).filter(|cubes| cubes.len() <= limit)
        } else {
            recursion::complement(&packed, limit)
        };
        let cubes = cubes.ok_or(CoverError::TooManyTerms { limit })?;
        Ok(Cover { inputs: self.inputs, cubes: cubes.into_iter().map(|c| frame.unpack(c)).collect() })
    }

    /// All prime implicants, as the complete sum (A. Blake, 1937).
    ///
    /// # Errors
    /// [`CoverError::TooManyTerms`] if more than [`MAX_TERMS`] come up.
    pub fn complete_sum(&self) -> Result<Cover, CoverError> {
        let cubes = recursion::primes(&self.cubes, MAX_TERMS).ok_or(CoverError::TooManyTerms { limit: MAX_TERMS })?;
        Ok(Cover { inputs: self.inputs, cubes })
    }

    pub(super) fn same_inputs(&self, other: &Cover) -> Result<(), CoverError> {
        if self.inputs == other.inputs {
            Ok(())
        } else {
            Err(CoverError::DifferentInputs { left: self.inputs, right: other.inputs })
        }
    }
}

/// The inputs that matter, renumbered from 0.
#[derive(Clone, Debug)]
pub(super) struct Frame {
    positions: Vec<u32>,
}

impl Frame {
    pub(super) fn of(support: u64) -> Frame {
        Frame { positions: bits(support).collect() }
    }

    pub(super) fn inputs(&self) -> u32 {
        self.positions.len() as u32
    }

    pub(super) fn pack(&self, cube: Cube) -> Cube {
        Cube::reading(self.pack_mask(cube.care()), self.pack_mask(cube.value()))
    }

    pub(super) fn pack_mask(&self, inputs: u64) -> u64 {
        self.positions.iter().zip(0..).fold(0, |w, (&p, i)| w | (inputs >> p & 1) << i)
    }

    pub(super) fn pack_all(&self, cubes: &[Cube]) -> Vec<Cube> {
        cubes.iter().map(|&c| self.pack(c)).collect()
    }

    pub(super) fn unpack(&self, cube: Cube) -> Cube {
        let spread = |word: u64| self.positions.iter().zip(0..).fold(0, |w, (&p, i)| w | (word >> i & 1) << p);
        Cube::reading(spread(cube.care()), spread(cube.value()))
    }
}
