//! The sum of products with the fewest terms: which way is taken, and how much of it is proved.
use gluewright_kernel::limit::Limit;

use super::covering::{Budget, Solution, solve};
use super::cube::Cube;
use super::dense;
use super::error::CoverError;
use super::expand::{self, Upper};
use super::function::Function;
use super::lazy::{choose, open_places};
use super::list::{Cover, Frame};
use super::primes;
use super::recursion;
use super::table::{MAX_DENSE_INPUTS, Table};

/// How much may be spent on one minimum. All but the last count steps, never time: the same call always gives the same
/// answer, unless its time was over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Effort {
    /// Primes that may be listed. With more than this the minimum is searched without the list of all of them.
    pub primes: usize,
    /// Steps of local search for a cover with fewer terms. A step looks at one entry of the covering matrix.
    pub swaps: u64,
    /// Steps of branch and bound to prove the fewest terms, or find fewer. A second is some 400 million.
    pub terms: u64,
    /// Steps of branch and bound for the fewest literals among the covers with the fewest terms.
    pub literals: u64,
    /// Rounds of widening and cutting back where primes aren't listed.
    pub rounds: u32,
    /// Covers with more terms than this are of no use: once none can be as small, the search ends.
    pub useful: usize,
    /// When nothing smaller is looked for any more, whatever is proved by then.
    pub limit: Limit,
}

impl Default for Effort {
    /// Enough to prove nearly every function of up to twelve inputs that logic of its time holds, in at most a few
    /// seconds each and mostly in well under a millisecond.
    fn default() -> Effort {
        Effort {
            primes: 50_000,
            swaps: 20_000_000,
            terms: 500_000_000,
            literals: 5_000_000,
            rounds: 30,
            useful: usize::MAX,
            limit: Limit::default(),
        }
    }
}

impl Effort {
    /// Ten to forty times the default.
    pub fn thorough() -> Effort {
        Effort {
            primes: 200_000,
            swaps: 200_000_000,
            terms: 20_000_000_000,
            literals: 200_000_000,
            ..Effort::default()
        }
    }

    /// Only what comes at once: no search tree.
    pub fn quick() -> Effort {
        Effort { primes: 5_000, swaps: 500_000, terms: 0, literals: 0, rounds: 5, ..Effort::default() }
    }

    /// The same, for covers of at most this many terms.
    pub fn within(self, terms: usize) -> Effort {
        Effort { useful: terms, ..self }
    }

    /// The same, until this limit.
    pub fn until(self, limit: Limit) -> Effort {
        Effort { limit, ..self }
    }

    /// What is left for the covering once `fixed` terms are known.
    pub(super) fn budget(&self, fixed: usize) -> Budget {
        Budget {
            swaps: self.swaps,
            tree: self.terms,
            cost_tree: self.literals,
            useful: self.useful.saturating_sub(fixed) as u64,
            limit: self.limit,
        }
    }
}

/// How much is known about a number in a [`Minimum`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Proof {
    /// It can't be smaller.
    Proved,
    /// A limit of the [`Effort`] ended the search. It can't be below this bound, but perhaps below what was found.
    Heuristic {
        /// The proved lower bound.
        lower_bound: usize,
    },
}

impl Proof {
    pub(super) fn of(found: u64, lower: u64) -> Proof {
        if lower >= found { Proof::Proved } else { Proof::Heuristic { lower_bound: lower as usize } }
    }

    /// Whether it is proved.
    pub fn is_proved(self) -> bool {
        self == Proof::Proved
    }
}

/// A small cover, and how small it is known to be. No term of it can be left out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Minimum {
    /// The cover: prime implicants, sorted.
    pub cover: Cover,
    /// Whether fewer terms are impossible.
    pub terms: Proof,
    /// Whether fewer literals are impossible with as many terms. Never proved where the terms aren't.
    pub literals: Proof,
}

impl Minimum {
    /// From the terms that were fixed and those chosen.
    pub(super) fn new(inputs: u32, fixed: &[Cube], chosen: Vec<Cube>, solution: &Solution) -> Minimum {
        let mut cubes = [fixed, &chosen].concat();
        cubes.sort_unstable();
        let literals: u64 = fixed.iter().map(|c| u64::from(c.literals())).sum();
        let terms = Proof::of(chosen.len() as u64, solution.least_columns);
        Minimum {
            cover: Cover::of(inputs, cubes),
            terms: match terms {
                Proof::Proved => Proof::Proved,
                Proof::Heuristic { lower_bound } => Proof::Heuristic { lower_bound: lower_bound + fixed.len() },
            },
            literals: match Proof::of(solution.cost, solution.least_cost) {
                Proof::Proved if terms.is_proved() => Proof::Proved,
                _ => Proof::Heuristic { lower_bound: (solution.least_cost + literals) as usize },
            },
        }
    }

    pub(super) fn unpack(mut self, inputs: u32, frame: &Frame) -> Minimum {
        let cubes = self.cover.cubes().iter().map(|&c| frame.unpack(c)).collect();
        self.cover = Cover::of(inputs, cubes);
        self
    }
}

/// Both ways to hold a function.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Either {
    /// The terms that make it high.
    pub high: Minimum,
    /// The terms that make it low; an error if these are too many even to list.
    pub low: Result<Minimum, CoverError>,
}

impl Either {
    /// The one with fewer terms, then fewer literals, and whether its terms make the function low.
    pub fn fewer(&self) -> (&Minimum, bool) {
        let size = |m: &Minimum| (m.cover.len(), m.cover.literals());
        match &self.low {
            Ok(low) if size(low) < size(&self.high) => (low, true),
            _ => (&self.high, false),
        }
    }
}

/// Up to this many inputs, truth tables are the fastest way.
const TABLE_FIRST: u32 = 12;
/// Above that, so few primes make lists of terms faster.
const FEW_PRIMES: usize = 300;
/// The most primes that are worked out from lists of terms.
const LIST_PRIMES: usize = 4000;

/// The sum of products with the fewest terms, and among those with the fewest literals, that is high where the function
/// must be high and low where it must be low.
pub fn minimise(function: &Function, effort: &Effort) -> Minimum {
    let (frame, on, allowed) = packed(function);
    route(frame.inputs(), &on, &allowed, effort).unpack(function.inputs(), &frame)
}

/// Both polarities: the fewest terms that make the function high, and the fewest that make it low.
pub fn minimise_either(function: &Function, effort: &Effort) -> Either {
    let (frame, on, allowed) = packed(function);
    if frame.inputs() <= TABLE_FIRST {
        let (on, upper) = (Table::of(frame.inputs(), &on), Table::of(frame.inputs(), &allowed));
        let not = |t: &Table| t.with(t, |w, _| !w);
        if let (Some(high), Some(low)) =
            (from_tables(&on, &upper, effort), from_tables(&not(&upper), &not(&on), effort))
        {
            let inputs = function.inputs();
            return Either { high: high.unpack(inputs, &frame), low: Ok(low.unpack(inputs, &frame)) };
        }
    }
    Either { high: minimise(function, effort), low: function.complemented().map(|f| minimise(&f, effort)) }
}

/// The inputs that are read, and over these where the function must and where it may be high.
fn packed(function: &Function) -> (Frame, Vec<Cube>, Vec<Cube>) {
    let frame = Frame::of(function.on().support() | function.dont_care().support());
    let on = frame.pack_all(function.on().cubes());
    let free = frame.pack_all(function.dont_care().cubes());
    let allowed = recursion::absorb([&on[..], &free].concat());
    (frame, recursion::absorb(on), allowed)
}

/// The way that suits the number of inputs.
fn route(inputs: u32, on: &[Cube], allowed: &[Cube], effort: &Effort) -> Minimum {
    let by_tables = || from_tables(&Table::of(inputs, on), &Table::of(inputs, allowed), effort);
    let by_lists = |limit: usize| from_lists(inputs, on, allowed, limit, effort);
    let exact = if inputs <= TABLE_FIRST {
        by_tables()
    } else if inputs <= MAX_DENSE_INPUTS {
        by_lists(FEW_PRIMES).or_else(by_tables)
    } else {
        by_lists(LIST_PRIMES)
    };
    exact.unwrap_or_else(|| heuristic(inputs, on, allowed, effort))
}

/// Exact, from all primes; `None` if there are more than the effort allows.
fn from_tables(on: &Table, upper: &Table, effort: &Effort) -> Option<Minimum> {
    let problem = dense::problem(on, upper, effort.primes)?;
    let solution = solve(problem.matrix, effort.budget(problem.essential.len()))?;
    let chosen = solution.columns.iter().map(|&c| problem.primes[c as usize]).collect();
    Some(Minimum::new(on.inputs, &problem.essential, chosen, &solution))
}

/// Exact, from all primes; `None` if more than `limit` come up.
fn from_lists(inputs: u32, on: &[Cube], allowed: &[Cube], limit: usize, effort: &Effort) -> Option<Minimum> {
    let mut primes = sorted_primes(allowed, limit.min(effort.primes))?;
    let missing = |terms: &[Cube], columns: &mut Vec<Cube>| open_places(inputs, on, 0, terms, columns);
    let choice = choose(&mut primes, &[], Vec::new(), effort.budget(0), missing)?;
    Some(Minimum::new(inputs, &[], choice.cubes, &choice.solution))
}

/// All primes, those with fewest literals first, from lists of terms.
fn sorted_primes(allowed: &[Cube], limit: usize) -> Option<Vec<Cube>> {
    let mut primes = recursion::primes(allowed, limit)?;
    primes.sort_by_key(|p| (p.literals(), *p));
    Some(primes)
}

/// All primes, those with fewest literals first, in the way that suits the number of inputs.
pub(super) fn all_primes(inputs: u32, allowed: &[Cube], limit: usize) -> Option<Vec<Cube>> {
    let by_tables = || {
        let table = Table::of(inputs, allowed);
        let mut primes = primes::of_table(&table, &table, limit)?;
        primes.sort_by_key(|p| (p.literals(), *p));
        Some(primes)
    };
    if inputs <= TABLE_FIRST {
        by_tables()
    } else if inputs <= MAX_DENSE_INPUTS {
        sorted_primes(allowed, limit.min(FEW_PRIMES)).or_else(by_tables)
    } else {
        sorted_primes(allowed, limit.min(LIST_PRIMES))
    }
}

/// Without the list of all primes.
fn heuristic(inputs: u32, on: &[Cube], allowed: &[Cube], effort: &Effort) -> Minimum {
    let upper = Upper::of(inputs, allowed.to_vec());
    let Some(choice) = expand::cover(inputs, on, &upper, effort.rounds) else {
        // every place in `on` has a column, so this can't be reached; the terms as they stand are a cover
        let lower = Solution::default();
        return Minimum::new(inputs, &[], on.to_vec(), &lower);
    };
    let lower = expand::independent(&choice.rows, &upper) as u64;
    let solution = Solution { least_columns: lower, least_cost: 0, ..choice.solution };
    Minimum::new(inputs, &[], choice.cubes, &solution)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn the_ways_agree(inputs in 1u32..8, seed: [u64; 4]) {
            let at = |m: u64, salt: u64| (seed[(m / 64) as usize % 4] ^ salt) >> (m % 64) & 3;
            let on = Table::from_fn(inputs, |m| at(m, 0) == 0);
            let upper = on.with(&Table::from_fn(inputs, |m| at(m, 0x3b) == 1), |a, b| a | b);
            let effort = Effort::default();
            let tables = from_tables(&on, &upper, &effort).unwrap();
            let (on, upper) = (super::super::table::irredundant(&on, &on), super::super::table::irredundant(&upper, &upper));
            let lists = from_lists(inputs, &on, &upper, 4000, &effort).unwrap();
            prop_assert_eq!((tables.terms, lists.terms), (Proof::Proved, Proof::Proved));
            prop_assert_eq!(tables.cover.len(), lists.cover.len());
            if tables.literals.is_proved() && lists.literals.is_proved() {
                prop_assert_eq!(tables.cover.literals(), lists.cover.literals());
            }
            let rough = heuristic(inputs, &on, &upper, &effort);
            prop_assert!(rough.cover.len() >= tables.cover.len() && rough.cover.len() <= tables.cover.len() + 1);
            prop_assert_eq!(Function::from_cover(Cover::of(inputs, upper)).difference(&rough.cover).is_none_or(|d| d.1), true);
        }
    }
}
