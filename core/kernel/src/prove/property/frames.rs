//! Property-directed reachability: frames of clauses, each blocked relative to the one before it. (Bradley,
//! "SAT-based model checking without unrolling", 2011; Een, Mishchenko and Brayton 2011.)
use crate::solver::{Answer, Effort, Solver};
use crate::terms::{Assignment, Term, Terms};

use super::unroll::Subject;

/// What never is: these bits of the state all together, each with its level.
pub(super) type Cube = Vec<(usize, bool)>;

/// What came of it.
pub(super) enum Framed {
    /// It never comes: this is what can't be reached, and it is closed.
    Never(Vec<Cube>),
    /// It may come, as far as the state tells.
    Reached,
    /// It could not be told.
    GaveUp(String),
}

/// Too many questions, or the solver's own reason.
struct Over(String);

struct Frames<'a> {
    effort: Effort,
    terms: Terms,
    solver: Solver,
    /// Any point at rest, and a step from it.
    state: Vec<Term>,
    hypothesis: Vec<Term>,
    next: Vec<Term>,
    may: Term,
    wrong: Term,
    /// Power-up, and the step from there.
    start: Vec<Term>,
    started: Vec<Term>,
    first: Vec<Term>,
    first_next: Vec<Term>,
    /// The cubes blocked up to each frame and in no later one.
    blocked: Vec<Vec<Cube>>,
    asked: usize,
    most: usize,
    of: &'a Subject<'a>,
}

/// Looks for an invariant, with a limit on the number of questions.
pub(super) fn frames(of: &Subject<'_>, most: usize, effort: Effort) -> (Framed, usize) {
    let mut terms = Terms::new();
    let mut begun = of.anywhere(&mut terms);
    let state = of.state(&begun.place);
    let moved = of.step(&mut terms, &mut begun.place);
    let next = of.state(&moved.place);
    let wrong = terms.or(moved.found, moved.restless);
    let mut power = of.power_up(&mut terms);
    let start = of.state(&power.place);
    let mut started = power.constraints.clone();
    started.push(!power.restless);
    let first = of.step(&mut terms, &mut power.place);
    let first_next = of.state(&first.place);
    let mut first_holds = started.clone();
    first_holds.push(first.may);
    let frames = Frames {
        effort,
        terms,
        solver: Solver::new(effort),
        state,
        hypothesis: begun.constraints,
        next,
        may: moved.may,
        wrong,
        start,
        started,
        first: first_holds,
        first_next,
        blocked: vec![Vec::new()],
        asked: 0,
        most,
        of,
    };
    frames.run()
}

fn holds(bits: &[Term], cube: &[(usize, bool)]) -> Vec<Term> {
    cube.iter().filter_map(|&(i, high)| Some(bits.get(i)?.inverted_if(!high))).collect()
}

impl Frames<'_> {
    fn run(mut self) -> (Framed, usize) {
        let came = match self.search() {
            Ok(came) => came,
            Err(Over(why)) => Framed::GaveUp(why),
        };
        (came, self.asked)
    }

    fn ask(&mut self, wanted: &[Term]) -> Result<Option<Vec<bool>>, Over> {
        self.asked += 1;
        if self.asked > self.most {
            return Err(Over(format!("more than {} questions", self.most)));
        }
        if let Some(over) = self.of.pair.limit.over() {
            return Err(Over(over.to_string()));
        }
        match self.solver.satisfy(&self.terms, wanted) {
            Answer::No => Ok(None),
            Answer::Yes(values) => Ok(Some(values)),
            Answer::Unknown(why) => Err(Over(why)),
        }
    }

    /// What is known not to be in a frame, as terms over any point at rest.
    fn clauses(&mut self, frame: usize) -> Vec<Term> {
        let all: Vec<Cube> = self.blocked.iter().skip(frame).flatten().cloned().collect();
        kept(&mut self.terms, &self.state, &all)
    }

    fn cube(&self, values: &[bool]) -> Cube {
        let assignment = Assignment::new(&self.terms, |v| values.get(v as usize).copied().unwrap_or(false));
        self.state.iter().enumerate().map(|(i, &t)| (i, assignment.value(t))).collect()
    }

    fn is_start(&mut self, cube: &Cube) -> Result<bool, Over> {
        let mut wanted = self.started.clone();
        wanted.extend(holds(&self.start, cube));
        Ok(self.ask(&wanted)?.is_some())
    }

    /// A point of the frame below from which one event leads into the cube, itself not in it; nothing if there is none.
    fn into(&mut self, cube: &Cube, frame: usize) -> Result<Option<Cube>, Over> {
        if frame <= 1 {
            let mut wanted = self.first.clone();
            wanted.extend(holds(&self.first_next, cube));
            return Ok(self.ask(&wanted)?.map(|_| Cube::new()));
        }
        let mut wanted = self.hypothesis.clone();
        wanted.extend(self.clauses(frame - 1));
        let here = holds(&self.state, cube);
        let here = self.terms.all(here);
        wanted.push(!here);
        wanted.push(self.may);
        wanted.extend(holds(&self.next, cube));
        Ok(self.ask(&wanted)?.map(|values| self.cube(&values)))
    }

    fn search(&mut self) -> Result<Framed, Over> {
        let mut top = 1;
        self.blocked.push(Vec::new());
        loop {
            loop {
                let mut wanted = self.hypothesis.clone();
                wanted.extend(self.clauses(top));
                wanted.extend([self.may, self.wrong]);
                let Some(values) = self.ask(&wanted)? else { break };
                let cube = self.cube(&values);
                if !self.block(cube, top)? {
                    return Ok(Framed::Reached);
                }
            }
            self.blocked.push(Vec::new());
            top += 1;
            // what is kept by a step goes up with it
            for frame in 1..top {
                for cube in self.blocked[frame].clone() {
                    if self.into(&cube, frame + 1)?.is_none() {
                        self.blocked[frame].retain(|c| *c != cube);
                        self.blocked[frame + 1].push(cube);
                    }
                }
                if self.blocked[frame].is_empty() {
                    let all: Vec<Cube> = self.blocked.iter().skip(frame + 1).flatten().cloned().collect();
                    return match self.stands(&all)? {
                        true => Ok(Framed::Never(all)),
                        false => Ok(Framed::GaveUp("what was found does not stand by itself".to_owned())),
                    };
                }
            }
        }
    }

    /// Blocks a cube up to a frame, with all that leads there; false if power-up leads there.
    fn block(&mut self, cube: Cube, frame: usize) -> Result<bool, Over> {
        let mut open: Vec<(usize, Cube)> = vec![(frame, cube)];
        while let Some(lowest) = (0..open.len()).min_by_key(|&i| open[i].0) {
            let (frame, cube) = open.swap_remove(lowest);
            if frame == 0 || self.is_start(&cube)? {
                return Ok(false);
            }
            let within = |blocked: &Cube| blocked.iter().all(|l| cube.contains(l));
            if self.blocked.iter().skip(frame).flatten().any(within) {
                continue;
            }
            match self.into(&cube, frame)? {
                Some(_) if frame == 1 => return Ok(false),
                Some(before) => {
                    open.push((frame, cube));
                    open.push((frame - 1, before));
                }
                None => {
                    let (small, upto) = self.widen(cube, frame)?;
                    self.blocked[upto].push(small);
                }
            }
        }
        Ok(true)
    }

    /// As few literals as still block it, and the highest frame up to which they do.
    fn widen(&mut self, cube: Cube, frame: usize) -> Result<(Cube, usize), Over> {
        let mut small = cube;
        let mut at = 0;
        while at < small.len() && small.len() > 1 {
            let mut fewer = small.clone();
            fewer.remove(at);
            if !self.is_start(&fewer)? && self.into(&fewer, frame)?.is_none() {
                small = fewer;
            } else {
                at += 1;
            }
        }
        let mut frame = frame;
        while frame + 1 < self.blocked.len() && self.into(&small, frame + 1)?.is_none() {
            frame += 1;
        }
        Ok((small, frame))
    }

    /// The invariant by itself, asked again of a solver that knows nothing of the search: no power-up is outside of it, no
    /// event leaves it, and none that begins in it is wrong.
    fn stands(&mut self, cubes: &[Cube]) -> Result<bool, Over> {
        let mut fresh = Solver::new(self.effort);
        let inside = kept(&mut self.terms, &self.state, cubes);
        let mut questions: Vec<Vec<Term>> = Vec::new();
        for cube in cubes {
            let mut wanted = self.started.clone();
            wanted.extend(holds(&self.start, cube));
            questions.push(wanted);
            let mut wanted = self.hypothesis.clone();
            wanted.extend(inside.iter().copied());
            wanted.push(self.may);
            wanted.extend(holds(&self.next, cube));
            questions.push(wanted);
        }
        let mut wanted = self.hypothesis.clone();
        wanted.extend(inside);
        wanted.extend([self.may, self.wrong]);
        questions.push(wanted);
        for wanted in questions {
            match fresh.satisfy(&self.terms, &wanted) {
                Answer::No => {}
                Answer::Yes(_) => return Ok(false),
                Answer::Unknown(why) => return Err(Over(why)),
            }
        }
        Ok(true)
    }
}

/// What an invariant says of a state, as terms.
pub(super) fn kept(terms: &mut Terms, state: &[Term], cubes: &[Cube]) -> Vec<Term> {
    let literals: Vec<Vec<Term>> = cubes.iter().map(|c| holds(state, c)).collect();
    literals.into_iter().map(|l| !terms.all(l)).collect()
}
