//! From truth tables to a covering problem: primes, essential primes, and one row for each class of minterms.
use super::covering::{Lists, Matrix};
use super::cube::{Cube, mask};
use super::primes;
use super::table::{Table, for_each_word};

/// What is left to decide.
#[derive(Debug)]
pub(super) struct Problem {
    /// Primes that alone hold some minterm.
    pub(super) essential: Vec<Cube>,
    /// The primes that the columns stand for, those with fewest literals first.
    pub(super) primes: Vec<Cube>,
    /// One row for each class of minterms that isn't covered whenever another one is.
    pub(super) matrix: Matrix,
}

/// The covering problem of a function that is high on `on` and low outside `upper`; `None` if it has more primes than
/// `limit`.
pub(super) fn problem(on: &Table, upper: &Table, limit: usize) -> Option<Problem> {
    let mut primes = primes::of_table(upper, on, limit)?;
    let mut rest = on.clone();
    let essential = take_essential(&mut primes, &mut rest);
    primes.sort_by_key(|p| p.literals());
    let rows = classes(&primes, &rest);
    let matrix = Matrix::new(columns_at(&primes, &rows, on.inputs), primes.iter().map(|p| p.literals()).collect());
    Some(Problem { essential, primes, matrix })
}

/// Takes out the primes that alone hold some minterm, the minterms that they hold, and primes that hold no other.
fn take_essential(primes: &mut Vec<Cube>, rest: &mut Table) -> Vec<Cube> {
    let inputs = rest.inputs;
    let (mut once, mut twice) = (Table::zero(inputs), Table::zero(inputs));
    for &p in primes.iter() {
        for_each_word(inputs, p, |at, word| {
            twice.words[at] |= once.words[at] & word;
            once.words[at] |= word;
        });
    }
    let alone = rest.with(&twice, |on, twice| on & !twice);
    let (essential, others) = primes.iter().partition(|&&p| alone.meets(p));
    *primes = others;
    for &p in &essential {
        rest.remove(p);
    }
    primes.retain(|&p| rest.meets(p));
    essential
}

/// The minterms of `rest` that stand for rows. The intersection of all primes at a minterm is the same cube for two
/// minterms if they have the same primes, and every minterm within it has at least these: it is covered anyway
/// (P. C. McGeer, J. V. Sanghavi, R. K. Brayton and A. Sangiovanni-Vincentelli, DAC 1993, call it the signature cube).
fn classes(primes: &[Cube], rest: &Table) -> Vec<u32> {
    let all = mask(rest.inputs);
    let mut free = vec![u32::MAX; 1 << rest.inputs];
    for &p in primes {
        let open = (all & !p.care()) as u32;
        rest.for_each_in(p, |m| free[m as usize] &= open);
    }
    let mut minterms: Vec<u32> = Vec::new();
    rest.for_each_in(Cube::ONE, |m| minterms.push(m as u32));
    minterms.sort_by_key(|&m| std::cmp::Reverse(free[m as usize].count_ones()));
    let mut dominated = Table::zero(rest.inputs);
    minterms.retain(|&m| {
        let stands = !dominated.get(u64::from(m));
        if stands {
            let class = Cube::reading(all & !u64::from(free[m as usize]), u64::from(m));
            for_each_word(rest.inputs, class, |at, word| dominated.words[at] |= word);
        }
        stands
    });
    minterms.sort_unstable();
    minterms
}

/// For each of these minterms the primes that hold there.
fn columns_at(primes: &[Cube], minterms: &[u32], inputs: u32) -> Lists {
    let mut row = vec![u32::MAX; 1 << inputs];
    for (&m, r) in minterms.iter().zip(0..) {
        row[m as usize] = r;
    }
    let mut columns = Lists::default();
    for p in primes {
        let open = mask(inputs) & !p.care();
        if 1usize << open.count_ones() < minterms.len() {
            let mut inside = Vec::with_capacity(1 << open.count_ones());
            let mut sub = 0u64;
            loop {
                inside.push(row[(p.value() | sub) as usize]);
                sub = sub.wrapping_sub(open) & open;
                if sub == 0 {
                    break;
                }
            }
            columns.push(inside.into_iter().filter(|&r| r != u32::MAX));
        } else {
            columns.push(minterms.iter().zip(0..).filter(|(m, _)| p.holds(u64::from(**m))).map(|(_, r)| r));
        }
    }
    columns.turned(minterms.len())
}
