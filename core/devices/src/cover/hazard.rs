//! Sums that stay high while inputs change: which places one term alone must hold, where that fails, and the fewest
//! terms with which it doesn't.
//!
//! A sum of products is high at two points that differ in one input, yet may dip between them if no single term holds
//! at both (a static hazard; D. A. Huffman, "The design and use of hazard-free switching networks", J. ACM 1957). The
//! term that bridges them is a consensus that a minimum leaves out. A latch made of product terms forgets in such a
//! dip. The complete sum bridges everything; what is asked for here is the smallest sum that bridges enough.
use super::cube::{Cube, bits};
use super::error::CoverError;
use super::expand::{self, Upper};
use super::function::Function;
use super::lazy::{Choice, choose, open_places};
use super::list::{Cover, Frame, MAX_TERMS};
use super::minimum::{Effort, Minimum, all_primes};
use super::recursion;

/// Asks a sum to stay high while some inputs change: wherever `region` holds, one term must hold that reads none of
/// `changing`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Steady {
    /// The inputs that change together or one after another.
    pub changing: u64,
    /// Where the other inputs stand while they do.
    pub region: Cover,
}

/// A place where a sum isn't steady.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Hazard {
    /// The inputs whose change may show.
    pub changing: u64,
    /// Where the other inputs stand.
    pub at: Cube,
}

/// Asks for steadiness whenever one of `inputs` changes and `high` is high before and after; with a `condition`, only
/// where that holds before and after.
///
/// # Errors
/// [`CoverError::DifferentInputs`].
pub fn single_changes(high: &Cover, inputs: u64, condition: Option<&Cover>) -> Result<Vec<Steady>, CoverError> {
    let mut all = Vec::new();
    for input in bits(inputs & high.support()) {
        let both_ways =
            |c: &Cover| c.cofactor(Cube::literal(input, false)).intersection(&c.cofactor(Cube::literal(input, true)));
        let mut region = both_ways(high)?;
        if let Some(condition) = condition {
            region = region.intersection(&both_ways(condition)?)?;
        }
        if !region.is_empty() {
            all.push(Steady { changing: 1 << input, region });
        }
    }
    Ok(all)
}

/// Where `cover` isn't as steady as asked: for each demand, disjoint places that no fitting term holds. At most
/// [`MAX_TERMS`] are listed.
pub fn static_hazards(cover: &Cover, demands: &[Steady]) -> Vec<Hazard> {
    let mut hazards = Vec::new();
    for demand in demands {
        let mut held: Vec<Cube> = steady_terms(cover.cubes(), demand.changing);
        for region in demand.region.cubes() {
            let region = region.without(demand.changing);
            recursion::gaps(region, &held, &mut |at| {
                hazards.push(Hazard { changing: demand.changing, at });
                hazards.len() < MAX_TERMS
            });
            held.push(region);
        }
    }
    hazards
}

/// The cover with the fewest further terms that make it as steady as asked. All its terms stay. What it says of the
/// minimum is about the terms that were added.
///
/// # Errors
/// [`CoverError::NotAnImplicant`] if the function is low somewhere in a demand or in a term of the cover;
/// [`CoverError::DifferentInputs`].
pub fn make_hazard_free(
    cover: &Cover,
    function: &Function,
    demands: &[Steady],
    effort: &Effort,
) -> Result<Minimum, CoverError> {
    cover.same_inputs(function.on())?;
    check(function, demands, cover.cubes())?;
    steady(function, cover.cubes(), demands, &[], effort)
}

/// The fewest terms that hold a function, are as steady as asked, and hold each cube of `required` within one term.
///
/// # Errors
/// [`CoverError::NotAnImplicant`] if the function is low somewhere in a demand or a required cube;
/// [`CoverError::DifferentInputs`].
pub fn minimise_steady(
    function: &Function,
    demands: &[Steady],
    required: &[Cube],
    effort: &Effort,
) -> Result<Minimum, CoverError> {
    check(function, demands, required)?;
    steady(function, &[], demands, required, effort)
}

/// For each term of a cover, whether the function alone doesn't need it: it is there for steadiness, or for nothing.
pub fn not_needed(cover: &Cover, function: &Function) -> Vec<bool> {
    let terms = cover.cubes();
    let mut answers = Vec::with_capacity(terms.len());
    for (at, &term) in terms.iter().enumerate() {
        let others: Vec<Cube> = terms.iter().enumerate().filter(|(i, _)| *i != at).map(|(_, &c)| c).collect();
        let mut own = function.on().cubes().iter().filter_map(|c| c.intersection(term));
        answers.push(own.all(|part| recursion::gap(part, &others).is_none()));
    }
    answers
}

fn steady_terms(cubes: &[Cube], changing: u64) -> Vec<Cube> {
    cubes.iter().copied().filter(|c| c.care() & changing == 0).collect()
}

/// Every demand must be possible: its region, whatever the changing inputs do, must be where the function may be high.
fn check(function: &Function, demands: &[Steady], required: &[Cube]) -> Result<(), CoverError> {
    let allowed = function.allowed();
    let possible = |index: usize, cube: Cube| {
        if allowed.contains(cube) { Ok(()) } else { Err(CoverError::NotAnImplicant { index, cube }) }
    };
    for (index, demand) in demands.iter().enumerate() {
        demand.region.same_inputs(function.on())?;
        demand.region.cubes().iter().try_for_each(|c| possible(index, c.without(demand.changing)))?;
    }
    required.iter().enumerate().try_for_each(|(index, &cube)| possible(index, cube))
}

fn steady(
    function: &Function,
    given: &[Cube],
    demands: &[Steady],
    required: &[Cube],
    effort: &Effort,
) -> Result<Minimum, CoverError> {
    let regions = demands.iter().map(|d| &d.region);
    let read = regions.chain([function.on(), function.dont_care()]).fold(0, |all, c| all | c.support());
    let frame = Frame::of(given.iter().chain(required).fold(read, |all, c| all | c.care()));
    let inputs = frame.inputs();
    let pack = |cubes: &[Cube]| frame.pack_all(cubes);
    let (given, required, on) = (pack(given), pack(required), pack(function.on().cubes()));
    let allowed = pack(function.allowed().cubes());
    let mut asked = vec![(0, on.clone())];
    asked.extend(demands.iter().map(|d| (frame.pack_mask(d.changing), pack(d.region.cubes()))));
    let places = |terms: &[Cube], columns: &[Cube]| {
        let each = asked.iter();
        each.flat_map(|(changing, regions)| open_places(inputs, regions, *changing, terms, columns)).collect::<Vec<_>>()
    };

    let budget = effort.budget(given.len());
    let finish =
        |choice: Choice| Minimum::new(inputs, &given, choice.cubes, &choice.solution).unpack(function.inputs(), &frame);
    if let Some(mut primes) = all_primes(inputs, &allowed, effort.primes.min(STEADY_PRIMES)) {
        let missing = |terms: &[Cube], columns: &mut Vec<Cube>| places(terms, columns);
        if let Some(choice) = choose(&mut primes, &given, required.clone(), budget, missing) {
            return Ok(finish(choice));
        }
    }
    // without all primes: one around each place, as it comes up
    let upper = Upper::of(inputs, allowed);
    let widen = |place: Cube| upper.widen(place, (0..inputs).rev());
    let mut columns: Vec<Cube> = on.iter().chain(&required).map(|&c| widen(c)).collect();
    let missing = |terms: &[Cube], columns: &mut Vec<Cube>| {
        let open = places(terms, columns);
        columns.extend(open.iter().map(|&p| widen(p)));
        open
    };
    let choice = choose(&mut columns, &given, required.clone(), budget, missing);
    let mut choice = choice.ok_or(CoverError::TooManyTerms { limit: MAX_TERMS })?;
    choice.solution.least_columns = if given.is_empty() { expand::independent(&choice.rows, &upper) as u64 } else { 0 };
    choice.solution.least_cost = 0;
    Ok(finish(choice))
}

/// The most primes that are listed.
const STEADY_PRIMES: usize = 20_000;
