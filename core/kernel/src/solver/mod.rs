//! The door to Z3: the only room that knows its types.
//!
//! One solver goes with one graph of terms and is reused for all questions about it; what has few variables goes to a
//! truth table instead. The binding swallows errors, so
//! this room asks only what it can check: every model is evaluated on our own terms before anybody sees it, pushes and
//! pops are paired in one function, a limit that was not understood is found by a test, and anything but a plain yes or
//! no is [`Answer::Unknown`].

use std::cell::Cell;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use z3::ast::Bool;
use z3::{Context, Params, SatResult};

use crate::limit::Limit;
use crate::terms::{Assignment, Node, Table, Term, Terms};

/// The solver's answer to whether terms can all be true.
#[derive(Clone, Debug)]
pub enum Answer {
    /// They can, and this is how: a value for each variable of the graph.
    Yes(Vec<bool>),
    /// They can't.
    No,
    /// The solver gave up, or gave an answer that does not stand.
    Unknown(String),
}

/// How long one question may take.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Effort {
    /// Milliseconds for a question; 0 for no limit.
    pub milliseconds: u32,
    /// Elementary steps of the solver for a question, the same on every machine; 0 for no limit.
    pub steps: u32,
    /// When all questions together must be over, and with them what is done between them.
    pub limit: Limit,
}

/// How often a watcher looks at the token.
const LOOK: Duration = Duration::from_millis(20);

thread_local! {
    /// The limit at which a thread beside this one interrupts its questions.
    static WATCHED: Cell<Option<Limit>> = const { Cell::new(None) };
}

/// Does some work with a thread beside it that interrupts every question which this thread asks once the limit is over. One
/// watcher for much work costs less than a clock for each question.
pub(crate) fn watched<T>(limit: Limit, work: impl FnOnce() -> T) -> T {
    let outer = WATCHED.get();
    if limit == Limit::default() || outer == Some(limit) {
        return work();
    }
    /// Watched as before, however the work ends.
    struct Watch<'w>(&'w AtomicBool, std::thread::Thread, Option<Limit>);
    impl Drop for Watch<'_> {
        fn drop(&mut self) {
            WATCHED.set(self.2);
            self.0.store(true, Ordering::Release);
            self.1.unpark();
        }
    }
    let context = Context::thread_local();
    let handle = context.handle();
    let is_done = AtomicBool::new(false);
    std::thread::scope(|scope| {
        let watcher = scope.spawn(|| {
            while !is_done.load(Ordering::Acquire) {
                if limit.over().is_some() {
                    handle.interrupt();
                }
                let soon = limit.left().filter(|left| !left.is_zero());
                std::thread::park_timeout(soon.map_or(LOOK, |left| left.min(LOOK)));
            }
        });
        let _watch = Watch(&is_done, watcher.thread().clone(), outer);
        WATCHED.set(Some(limit));
        work()
    })
}

/// A solver for the terms of one graph.
#[derive(Debug)]
pub struct Solver {
    /// Made when the first question comes that is too large for a table: it costs more than a small proof.
    solver: Option<z3::Solver>,
    effort: Effort,
    known: Vec<Option<Bool>>,
    variables: Vec<(u32, Bool)>,
    table: Table,
    /// How many questions went to the solver.
    pub questions: usize,
    /// How many questions a truth table answered.
    pub tables: usize,
}

impl Solver {
    /// A solver. The logic is that of finite domains: propositional, and quick to set up.
    pub fn new(effort: Effort) -> Self {
        Solver {
            solver: None,
            effort,
            known: Vec::new(),
            variables: Vec::new(),
            table: Table::default(),
            questions: 0,
            tables: 0,
        }
    }

    fn limited(effort: Effort, milliseconds: u32) -> Params {
        let mut params = Params::new();
        if milliseconds > 0 {
            params.set_u32("timeout", milliseconds);
        }
        if effort.steps > 0 {
            params.set_u32("rlimit", effort.steps);
        }
        params
    }

    /// The version of the library that answers.
    pub fn version() -> String {
        z3::full_version().to_owned()
    }

    /// Whether an SMT-LIB text, read by the library's own reader, has no solution. A text that can't be read has one.
    #[cfg(test)]
    pub(crate) fn refutes(text: &str) -> bool {
        let solver = z3::Solver::new();
        solver.from_string(text);
        solver.check() == SatResult::Unsat
    }

    /// Can all these terms be true at once? Always ask about the same graph.
    pub fn satisfy(&mut self, terms: &Terms, all: &[Term]) -> Answer {
        if all.contains(&Term::FALSE) || all.iter().any(|&t| all.contains(&!t)) {
            return Answer::No;
        }
        let wanted: Vec<Term> = all.iter().copied().filter(|&t| t != Term::TRUE).collect();
        if wanted.is_empty() {
            return Answer::Yes(vec![false; terms.variable_count()]);
        }
        let left = match self.left() {
            Ok(left) => left,
            Err(why) => return Answer::Unknown(why),
        };
        // what has no variable in common is a question of its own; small ones have a table
        let (mut found, mut rest) = (vec![false; terms.variable_count()], Vec::new());
        for group in self.table.divide(terms, &wanted) {
            match self.table.satisfy(terms, &group) {
                None => rest.extend(group),
                Some(None) => {
                    self.tables += 1;
                    return Answer::No;
                }
                Some(Some(values)) => {
                    for (v, value) in values {
                        if let Some(slot) = found.get_mut(v as usize) {
                            *slot = value;
                        }
                    }
                }
            }
        }
        if rest.is_empty() {
            self.tables += 1;
            return Answer::Yes(found);
        }
        let wanted = rest;
        self.questions += 1;
        let formulas: Vec<Bool> = wanted.iter().map(|&t| self.formula(terms, t)).collect();
        let effort = self.effort;
        let solver = self.solver.get_or_insert_with(|| {
            let solver = z3::Solver::new_for_logic("QF_FD").unwrap_or_default();
            if effort.milliseconds > 0 || effort.steps > 0 {
                solver.set_params(&Solver::limited(effort, effort.milliseconds));
            }
            solver
        });
        solver.push();
        for f in &formulas {
            solver.assert(f);
        }
        let answer = match Solver::checked(solver, effort, left) {
            SatResult::Unsat => Answer::No,
            SatResult::Unknown => Answer::Unknown(match effort.limit.over() {
                Some(over) => over.to_string(),
                None => solver.get_reason_unknown().unwrap_or_else(|| "no reason given".to_owned()),
            }),
            SatResult::Sat => Solver::model(solver, &self.variables, terms, (&wanted, found)),
        };
        solver.pop(1);
        answer
    }

    /// The milliseconds that a question may take when all must be over at some time.
    fn left(&self) -> Result<Option<u32>, String> {
        self.effort.limit.check().map_err(|over| over.to_string())?;
        let Some(left) = self.effort.limit.left() else { return Ok(None) };
        let left = u32::try_from(left.as_millis()).unwrap_or(u32::MAX).max(1);
        Ok(Some(if self.effort.milliseconds > 0 { self.effort.milliseconds.min(left) } else { left }))
    }

    /// Asks what was asserted, for at most this many milliseconds, until somebody stops it.
    fn checked(solver: &z3::Solver, effort: Effort, left: Option<u32>) -> SatResult {
        // who is watched is interrupted in time, and needs no clock of the library's own for each question
        if WATCHED.get() == Some(effort.limit) {
            return solver.check();
        }
        if let Some(left) = left {
            solver.set_params(&Solver::limited(effort, left));
        }
        let token = Limit::default().or_when(effort.limit.stop());
        watched(token, || solver.check())
    }

    fn model(
        solver: &z3::Solver,
        variables: &[(u32, Bool)],
        terms: &Terms,
        (wanted, mut values): (&[Term], Vec<bool>),
    ) -> Answer {
        let Some(model) = solver.get_model() else {
            return Answer::Unknown("satisfiable, but without a model".to_owned());
        };
        // variables of other questions have any value, those of this question's small groups had theirs
        let cone = terms.support_of(wanted.iter().copied());
        for (n, variable) in variables.iter().filter(|(n, _)| cone.binary_search(n).is_ok()) {
            if let (Some(slot), Some(value)) =
                (values.get_mut(*n as usize), model.eval(variable, true).and_then(|b| b.as_bool()))
            {
                *slot = value;
            }
        }
        let value = |v: u32| values.get(v as usize).copied().unwrap_or(false);
        let check = Assignment::of(terms, wanted.iter().copied(), value);
        if wanted.iter().all(|&t| check.value(t)) {
            Answer::Yes(values)
        } else {
            Answer::Unknown("the solver's model does not satisfy the question".to_owned())
        }
    }

    fn formula(&mut self, terms: &Terms, term: Term) -> Bool {
        let mut stack = vec![term];
        while let Some(&t) = stack.last() {
            let n = t.node();
            if self.known.len() <= n {
                self.known.resize(n + 1, None);
            }
            if self.known[n].is_some() {
                stack.pop();
                continue;
            }
            let made = match terms.node(t) {
                Node::False => Bool::from_bool(false),
                Node::Variable(v) => {
                    let constant = Bool::new_const(v);
                    self.variables.push((v, constant.clone()));
                    constant
                }
                Node::And(a, b) => match (self.edge(a), self.edge(b)) {
                    (Some(a), Some(b)) => Bool::and(&[a, b]),
                    (a, _) => {
                        if a.is_none() {
                            stack.push(terms.and_operands(t).0);
                        } else {
                            stack.push(terms.and_operands(t).1);
                        }
                        continue;
                    }
                },
            };
            self.known[n] = Some(made);
            stack.pop();
        }
        self.edge(term).unwrap_or_else(|| Bool::from_bool(false))
    }

    fn edge(&self, term: Term) -> Option<Bool> {
        let node = self.known.get(term.node())?.as_ref()?;
        Some(if term.is_inverted() { node.not() } else { node.clone() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limit::Stop;
    use proptest::prelude::*;

    /// Pigeons in holes: unsatisfiable, and slow for resolution. (Haken 1985.)
    fn pigeons(terms: &mut Terms, holes: usize) -> Vec<Term> {
        let x: Vec<Vec<Term>> = (0..=holes).map(|_| (0..holes).map(|_| terms.variable()).collect()).collect();
        let mut all: Vec<Term> = x.iter().map(|row| terms.any(row.iter().copied())).collect();
        for hole in 0..holes {
            for (i, one) in x.iter().enumerate() {
                for other in &x[..i] {
                    let both = terms.and(one[hole], other[hole]);
                    all.push(!both);
                }
            }
        }
        all
    }

    #[test]
    fn a_limit_gives_unknown_and_never_an_answer() {
        let mut terms = Terms::new();
        let all = pigeons(&mut terms, 9);
        let mut solver = Solver::new(Effort { steps: 2000, ..Effort::default() });
        let answer = solver.satisfy(&terms, &all);
        assert!(matches!(answer, Answer::Unknown(_)), "{answer:?}");
    }

    #[test]
    fn a_time_limit_gives_unknown() {
        let mut terms = Terms::new();
        let all = pigeons(&mut terms, 11);
        let mut solver = Solver::new(Effort { milliseconds: 20, ..Effort::default() });
        assert!(matches!(solver.satisfy(&terms, &all), Answer::Unknown(_)));
    }

    #[test]
    fn a_time_for_all_questions_gives_unknown_when_it_is_over() {
        let mut terms = Terms::new();
        let all = pigeons(&mut terms, 11);
        let limit = Limit::within(Duration::from_millis(30));
        let mut solver = Solver::new(Effort { limit, ..Effort::default() });
        for _ in 0..2 {
            assert!(matches!(solver.satisfy(&terms, &all), Answer::Unknown(_)));
        }
    }

    #[test]
    fn somebody_else_stops_a_long_question_and_the_next_is_answered() {
        let stop = Stop::new();
        let limit = Limit::default().or_when(Some(stop));
        let mut terms = Terms::new();
        let all = pigeons(&mut terms, 12);
        let mut solver = Solver::new(Effort { limit, ..Effort::default() });
        let waker = std::thread::spawn(move || {
            std::thread::sleep(Duration::from_millis(200));
            stop.stop();
        });
        assert!(matches!(solver.satisfy(&terms, &all), Answer::Unknown(why) if why == "stopped"));
        waker.join().expect("it ran");
        // this one is stopped for good, another is not
        assert!(matches!(solver.satisfy(&terms, &all[..1]), Answer::Unknown(_)));
        assert!(matches!(Solver::new(Effort::default()).satisfy(&terms, &all[..1]), Answer::Yes(_)));
    }

    #[test]
    fn a_question_leaves_nothing_behind() {
        let mut terms = Terms::new();
        let a = terms.variable();
        let b = terms.variable();
        let both = terms.and(a, b);
        let mut solver = Solver::new(Effort::default());
        for _ in 0..3 {
            assert!(matches!(solver.satisfy(&terms, &[a, !b]), Answer::Yes(v) if v == [true, false]));
            assert!(matches!(solver.satisfy(&terms, &[both, !a]), Answer::No));
            assert!(matches!(solver.satisfy(&terms, &[!a, b]), Answer::Yes(v) if v == [false, true]));
        }
    }

    /// What has too many variables for a table comes before the library: what it was told once must not count again.
    #[test]
    fn a_question_to_the_library_leaves_nothing_behind() {
        let mut terms = Terms::new();
        let variables: Vec<Term> = (0..20).map(|_| terms.variable()).collect();
        let (any, all) = (terms.any(variables.iter().copied()), terms.all(variables.iter().copied()));
        let mut solver = Solver::new(Effort::default());
        for _ in 0..2 {
            assert!(matches!(solver.satisfy(&terms, &[all, any]), Answer::Yes(v) if v == [true; 20]));
            assert!(matches!(solver.satisfy(&terms, &[all, !any]), Answer::No));
            assert!(matches!(solver.satisfy(&terms, &[!any]), Answer::Yes(v) if v == [false; 20]));
        }
        assert_eq!((solver.questions, solver.tables), (6, 0));
        assert!(matches!(solver.satisfy(&terms, &[any, variables[3], !variables[4]]), Answer::Yes(v) if v[3] && !v[4]));
    }

    #[test]
    fn what_a_table_answers_is_counted_and_the_library_is_not_asked() {
        let mut terms = Terms::new();
        let (a, b) = (terms.variable(), terms.variable());
        let both = terms.and(a, b);
        let mut solver = Solver::new(Effort::default());
        assert!(matches!(solver.satisfy(&terms, &[both, !a]), Answer::No));
        assert_eq!((solver.questions, solver.tables), (0, 1));
        assert!(matches!(solver.satisfy(&terms, &[a, !b]), Answer::Yes(_)));
        assert_eq!((solver.questions, solver.tables), (0, 2));
        assert!(matches!(solver.satisfy(&terms, &[Term::TRUE]), Answer::Yes(v) if v == [false; 2]));
        assert!(matches!(solver.satisfy(&terms, &[a, Term::FALSE]), Answer::No));
        assert!(matches!(solver.satisfy(&terms, &[a, b, !a]), Answer::No));
        assert_eq!((solver.questions, solver.tables), (0, 2), "what is seen at once needs no table");
    }

    #[test]
    fn a_model_that_does_not_stand_is_no_answer() {
        let mut terms = Terms::new();
        let (a, b) = (terms.variable(), terms.variable());
        // the library was told nothing, so any model will do for it
        let library = z3::Solver::new();
        assert_eq!(library.check(), SatResult::Sat);
        let variables = [(0, Bool::new_const(0)), (1, Bool::new_const(1))];
        for wanted in [[a, !a], [b, !b]] {
            let answer = Solver::model(&library, &variables, &terms, (&wanted, vec![false; 2]));
            assert!(matches!(answer, Answer::Unknown(_)), "{answer:?}");
        }
    }

    #[test]
    fn a_question_has_the_lesser_of_its_own_time_and_what_is_left_of_all() {
        let left = |milliseconds, limit| Solver::new(Effort { milliseconds, steps: 0, limit }).left();
        let hour = Limit::within(Duration::from_secs(3600));
        assert_eq!(left(50, Limit::default()), Ok(None), "its own time is set once for all questions");
        assert_eq!(left(50, hour), Ok(Some(50)));
        for milliseconds in [0, u32::MAX] {
            let some = left(milliseconds, hour).ok().flatten();
            assert!(some.is_some_and(|ms| (3_000_000..=3_600_000).contains(&ms)), "{some:?}");
        }
        assert!(left(50, Limit::within(Duration::ZERO)).is_err());
    }

    #[test]
    fn who_is_watched_is_watched_as_before_when_the_work_is_done() {
        let [outer, inner] = [3600, 1800].map(|s| Limit::within(Duration::from_secs(s)));
        assert_eq!(WATCHED.get(), None);
        watched(Limit::default(), || assert_eq!(WATCHED.get(), None));
        watched(outer, || {
            assert_eq!(WATCHED.get(), Some(outer));
            watched(inner, || assert_eq!(WATCHED.get(), Some(inner)));
            watched(Limit::default(), || assert_eq!(WATCHED.get(), Some(outer)));
            assert_eq!(WATCHED.get(), Some(outer));
        });
        assert_eq!(WATCHED.get(), None);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        /// The solver against trying everything.
        #[test]
        fn answers_agree_with_a_truth_table(script in prop::collection::vec((any::<u8>(), any::<u8>()), 1..40), pick in any::<u8>()) {
            let mut terms = Terms::new();
            let mut pool: Vec<Term> = (0..6).map(|_| terms.variable()).collect();
            for (i, j) in script {
                let at = |n: u8| pool[usize::from(n >> 1) % pool.len()].inverted_if(n & 1 == 1);
                let t = terms.and(at(i), at(j));
                pool.push(t);
            }
            let goal = pool[pool.len() - 1].inverted_if(pick & 1 == 1);
            let truth = (0u32..64).any(|m| Assignment::new(&terms, |v| (m >> v) & 1 == 1).value(goal));
            // by a table; beside a question with too many variables for one; as a part of such a question
            let mut wide = terms.clone();
            let others: Vec<Term> = (0..20).map(|_| wide.variable()).collect();
            let any = wide.any(others);
            let both = wide.and(goal, any);
            let hard = usize::from(goal != Term::FALSE);
            let beside = usize::from(truth);
            for (terms, wanted, questions) in
                [(&terms, vec![goal], 0), (&wide, vec![goal, any], beside), (&wide, vec![both], hard)]
            {
                let mut solver = Solver::new(Effort::default());
                let answer = solver.satisfy(terms, &wanted);
                prop_assert_eq!(matches!(answer, Answer::Yes(_)), truth);
                prop_assert_eq!(matches!(answer, Answer::No), !truth);
                prop_assert_eq!(solver.questions, questions);
                if let Answer::Yes(values) = answer {
                    let check = Assignment::new(terms, |v| values[v as usize]);
                    prop_assert!(wanted.iter().all(|&t| check.value(t)));
                }
            }
        }
    }
}
