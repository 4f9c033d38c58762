//! Which orders of changes a property depends on: doubts that some state which can be reached lets matter.
use crate::machine::{Desk, Film, Freedom, NodeId, Symbolic};
use crate::order::Waves;
use crate::prove::time::{Open, Timed};
use crate::solver::{Answer, Effort, Solver};
use crate::terms::Terms;

use super::decide::{Asked, Because, Decided, decide};
use super::frames::kept;
use super::unroll::{Subject, Wanted};

/// Depth to which runs are searched in which a doubt matters; a doubt that is not shown to be out of reach counts as open.
const DEEPEST: usize = 6;

/// The doubts that can matter where the property was proved so.
pub(super) fn open(
    of: &Subject<'_>,
    timed: &Timed,
    because: &Because,
    (effort, asked): (Effort, &mut Asked),
) -> Vec<Open> {
    let all = timed.of(|side, _, k| side == of.side && k.said.is_none());
    let mut open = Vec::new();
    for doubt in all {
        let Some(moving) = timed.moving(doubt.event, of.side) else { continue };
        if !may_matter(of, &doubt, &moving, because, effort) {
            continue;
        }
        let wanted = Wanted::Doubt { event: doubt.event, moving: &moving, doubt: &doubt.doubt };
        let subject = Subject { wanted, ..of.clone() };
        if !matches!(decide(&subject, None, DEEPEST, (effort, &mut *asked)), Decided::Never(_)) {
            open.push(doubt);
        }
    }
    open
}

/// Whether it may matter at any point at rest that the invariant allows.
fn may_matter(
    of: &Subject<'_>,
    doubt: &Open,
    moving: &crate::order::Moving,
    because: &Because,
    effort: Effort,
) -> bool {
    let (pair, side) = (of.pair, of.side);
    let Some(event) = pair.events.get(doubt.event) else { return true };
    let mut terms = Terms::new();
    let mut begun = of.anywhere(&mut terms);
    let mut wanted = begun.constraints.clone();
    if let Because::Invariant(cubes) = because {
        let state = of.state(&begun.place);
        wanted.extend(kept(&mut terms, &state, cubes));
    }
    let machine = &pair.machines[side];
    let mut levels = begun.place.levels.clone();
    for &c in &event.contacts {
        levels[c] = if event.contacts.len() == 1 { !begun.place.levels[c] } else { terms.variable() };
    }
    let change: Vec<_> = event.contacts.iter().map(|&c| (c, levels[c])).collect();
    let card = pair.card(side, &begun.place.point);
    let mut desk = Desk::new(machine);
    desk.film = Some(Film::new());
    let mut algebra = Symbolic::new(&mut terms, Freedom::Free);
    let may = pair.may(&mut algebra, &begun.place.levels, &levels, &card);
    let passed = pair.pass(&mut algebra, side, (&mut desk, &mut begun.place.point), &change, pair.limits);
    let film = desk.film.take().unwrap_or_default();
    desk.undo(&mut begun.place.point);
    let before = |n: NodeId| machine.value(&begun.place.point, n);
    let matters = Waves::new(&mut algebra, machine, moving, &before, &film).when(&doubt.doubt);
    let matters = terms.or(matters, passed.unsettled);
    wanted.extend([may, matters]);
    !matches!(Solver::new(effort).satisfy(&terms, &wanted), Answer::No)
}
