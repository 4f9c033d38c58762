//! A reader for the Boolean part of SMT-LIB 2.6, and two ways to answer it.
use std::collections::HashMap;

use batsat::{BasicSolver, Lit, SolverInterface, lbool};
use biodivine_lib_bdd::{Bdd, BddVariableSet};

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    Sat,
    Unsat,
    Unknown,
}

#[derive(Clone, Debug)]
enum Form {
    Word(String),
    List(Vec<Form>),
}

/// A formula by number; operands have smaller numbers.
#[derive(Clone, Debug)]
enum Formula {
    Constant(bool),
    Variable(usize),
    Not(usize),
    And(Vec<usize>),
    Or(Vec<usize>),
    Equal(usize, usize),
}

/// One `check-sat`, with everything that is known there.
#[derive(Clone, Debug)]
pub struct Check {
    formulas: Vec<Formula>,
    variables: usize,
    asserted: Vec<usize>,
}

#[derive(Debug)]
pub struct Script {
    pub checks: Vec<Check>,
}

#[derive(Clone, Default)]
struct Scope {
    names: HashMap<String, usize>,
    asserted: Vec<usize>,
    formulas: Vec<Formula>,
    variables: usize,
}

impl Script {
    pub fn read(text: &str) -> Result<Script, String> {
        let mut checks = Vec::new();
        let mut scopes = vec![Scope::default()];
        for command in forms(text)? {
            let Form::List(parts) = &command else { return Err(format!("no command: {command:?}")) };
            let words: Vec<&str> = parts.iter().map(|p| if let Form::Word(w) = p { w } else { "" }).collect();
            let scope = scopes.last_mut().ok_or("more pops than pushes")?;
            match (words.as_slice(), parts.as_slice()) {
                (["set-option" | "set-info" | "set-logic" | "exit", ..], _) => {}
                (["push", "1"], _) => {
                    let inner = scope.clone();
                    scopes.push(inner);
                }
                (["pop", "1"], _) => {
                    scopes.pop();
                }
                (["declare-const", name, "Bool"], _) => {
                    let v = scope.add(Formula::Variable(scope.variables));
                    scope.variables += 1;
                    scope.names.insert((*name).to_owned(), v);
                }
                (["define-fun", name, _, "Bool", _], [_, _, Form::List(none), _, body]) if none.is_empty() => {
                    let f = scope.formula(body)?;
                    scope.names.insert((*name).to_owned(), f);
                }
                (["assert", _], [_, body]) => {
                    let f = scope.formula(body)?;
                    scope.asserted.push(f);
                }
                (["check-sat"], _) => checks.push(Check {
                    formulas: scope.formulas.clone(),
                    variables: scope.variables,
                    asserted: scope.asserted.clone(),
                }),
                _ => return Err(format!("not understood: {command:?}")),
            }
        }
        Ok(Script { checks })
    }

    pub fn definitions(&self) -> usize {
        self.checks.iter().map(|c| c.formulas.len()).sum()
    }
}

impl Scope {
    fn add(&mut self, f: Formula) -> usize {
        self.formulas.push(f);
        self.formulas.len() - 1
    }

    fn formula(&mut self, form: &Form) -> Result<usize, String> {
        let parts = match form {
            Form::Word(w) => {
                return match w.as_str() {
                    "true" => Ok(self.add(Formula::Constant(true))),
                    "false" => Ok(self.add(Formula::Constant(false))),
                    name => self.names.get(name).copied().ok_or_else(|| format!("`{name}` is not declared")),
                };
            }
            Form::List(parts) => parts,
        };
        let [Form::Word(operator), operands @ ..] = parts.as_slice() else { return Err(format!("{form:?}")) };
        let of = operands.iter().map(|o| self.formula(o)).collect::<Result<Vec<_>, _>>()?;
        Ok(match (operator.as_str(), of.as_slice()) {
            ("not", &[a]) => self.add(Formula::Not(a)),
            ("and", _) => self.add(Formula::And(of)),
            ("or", _) => self.add(Formula::Or(of)),
            ("=", &[a, b]) => self.add(Formula::Equal(a, b)),
            ("xor", &[a, b]) => {
                let same = self.add(Formula::Equal(a, b));
                self.add(Formula::Not(same))
            }
            _ => return Err(format!("not understood: {form:?}")),
        })
    }
}

fn forms(text: &str) -> Result<Vec<Form>, String> {
    let mut open: Vec<Vec<Form>> = vec![Vec::new()];
    for line in text.lines() {
        let code = line.split(';').next().unwrap_or_default();
        for word in code.replace('(', " ( ").replace(')', " ) ").split_whitespace() {
            match word {
                "(" => open.push(Vec::new()),
                ")" => {
                    let done = open.pop().unwrap_or_default();
                    open.last_mut().ok_or("more closed than opened")?.push(Form::List(done));
                }
                word => open.last_mut().ok_or("more closed than opened")?.push(Form::Word(word.to_owned())),
            }
        }
    }
    match (open.pop(), open.is_empty()) {
        (Some(all), true) => Ok(all),
        _ => Err("something was opened and not closed".to_owned()),
    }
}

impl Check {
    /// Clauses for every formula, and each assertion as a clause of one.
    pub fn by_sat(&self) -> Answer {
        let mut solver = BasicSolver::default();
        let at: Vec<Lit> = self.formulas.iter().map(|_| Lit::new(solver.new_var_default(), true)).collect();
        let mut clause = |mut lits: Vec<Lit>| {
            solver.add_clause_reuse(&mut lits);
        };
        for (f, &x) in self.formulas.iter().zip(&at) {
            match f {
                Formula::Variable(_) => {}
                Formula::Constant(v) => clause(vec![if *v { x } else { !x }]),
                Formula::Not(a) => {
                    clause(vec![x, at[*a]]);
                    clause(vec![!x, !at[*a]]);
                }
                Formula::And(of) => {
                    of.iter().for_each(|&a| clause(vec![!x, at[a]]));
                    clause(of.iter().map(|&a| !at[a]).chain([x]).collect());
                }
                Formula::Or(of) => {
                    of.iter().for_each(|&a| clause(vec![x, !at[a]]));
                    clause(of.iter().map(|&a| at[a]).chain([!x]).collect());
                }
                Formula::Equal(a, b) => {
                    let (a, b) = (at[*a], at[*b]);
                    for lits in [[!x, !a, b], [!x, a, !b], [x, a, b], [x, !a, !b]] {
                        clause(lits.into());
                    }
                }
            }
        }
        self.asserted.iter().for_each(|&f| clause(vec![at[f]]));
        match solver.solve_limited(&[]) {
            r if r == lbool::TRUE => Answer::Sat,
            r if r == lbool::FALSE => Answer::Unsat,
            _ => Answer::Unknown,
        }
    }

    /// The conjunction of all assertions as a decision diagram.
    pub fn by_diagram(&self) -> Answer {
        let set = BddVariableSet::new_anonymous(self.variables.max(1) as u16);
        let variables = set.variables();
        let mut all: Vec<Bdd> = Vec::with_capacity(self.formulas.len());
        for f in &self.formulas {
            all.push(match f {
                Formula::Constant(v) => {
                    if *v {
                        set.mk_true()
                    } else {
                        set.mk_false()
                    }
                }
                Formula::Variable(v) => set.mk_var(variables[*v]),
                Formula::Not(a) => all[*a].not(),
                Formula::And(of) => of.iter().fold(set.mk_true(), |x, &a| x.and(&all[a])),
                Formula::Or(of) => of.iter().fold(set.mk_false(), |x, &a| x.or(&all[a])),
                Formula::Equal(a, b) => all[*a].iff(&all[*b]),
            });
        }
        let together = self.asserted.iter().fold(set.mk_true(), |x, &f| x.and(&all[f]));
        if together.is_false() { Answer::Unsat } else { Answer::Sat }
    }
}
