//! A forward check of a refutation: each lemma must follow by unit propagation from what stands before it.
//!
//! Goldberg and Novikov, "Verification of Proofs of Unsatisfiability for CNF Formulas", 2003 (the criterion); Wetzler,
//! Heule, Hunt, "DRAT-trim", 2014 (the text form). Lemmas that need more than propagation are not accepted. Deletions are
//! passed over: to keep a clause is always sound.

/// A clause database with propagation at the root.
#[derive(Debug, Default)]
pub struct Propagation {
    clauses: Vec<Vec<i32>>,
    /// For each literal, the clauses that watch it.
    watch: Vec<Vec<usize>>,
    /// The value of each variable: 0 open, 1 true, -1 false.
    value: Vec<i8>,
    trail: Vec<i32>,
    head: usize,
    refuted: bool,
}

fn slot(literal: i32) -> usize {
    2 * literal.unsigned_abs() as usize + usize::from(literal < 0)
}

impl Propagation {
    fn room(&mut self, literal: i32) {
        let variable = literal.unsigned_abs() as usize;
        if self.value.len() <= variable {
            self.value.resize(variable + 1, 0);
            self.watch.resize(2 * variable + 2, Vec::new());
        }
    }

    fn at(&self, literal: i32) -> i8 {
        let value = self.value.get(literal.unsigned_abs() as usize).copied().unwrap_or(0);
        if literal < 0 { -value } else { value }
    }

    fn set(&mut self, literal: i32) {
        if let Some(value) = self.value.get_mut(literal.unsigned_abs() as usize) {
            *value = if literal < 0 { -1 } else { 1 };
        }
        self.trail.push(literal);
    }

    /// Adds a clause for good.
    pub fn add(&mut self, clause: &[i32]) {
        let mut clause = clause.to_vec();
        clause.sort_unstable();
        clause.dedup();
        for &l in &clause {
            self.room(l);
        }
        if clause.iter().any(|&l| clause.binary_search(&-l).is_ok()) {
            return;
        }
        // literals that are not false come first, so that they are watched
        clause.sort_by_key(|&l| self.at(l) < 0);
        let open = clause.iter().filter(|&&l| self.at(l) >= 0).count();
        match (clause.as_slice(), open) {
            (_, 0) => self.refuted = true,
            (&[first, ..], 1) if self.at(first) == 0 => {
                self.set(first);
                self.refuted |= !self.propagate();
            }
            _ => {}
        }
        if let &[a, b, ..] = clause.as_slice() {
            for l in [a, b] {
                if let Some(list) = self.watch.get_mut(slot(l)) {
                    list.push(self.clauses.len());
                }
            }
            self.clauses.push(clause);
        }
    }

    /// Follows what is forced; false if a clause has become false.
    fn propagate(&mut self) -> bool {
        while let Some(&literal) = self.trail.get(self.head) {
            self.head += 1;
            let watching = self.watch.get_mut(slot(-literal)).map(std::mem::take).unwrap_or_default();
            let mut kept = Vec::with_capacity(watching.len());
            let mut sound = true;
            for &c in &watching {
                if !sound {
                    kept.push(c);
                    continue;
                }
                let Some(mut clause) = self.clauses.get_mut(c).map(std::mem::take) else { continue };
                if clause.first() == Some(&-literal) {
                    clause.swap(0, 1);
                }
                let first = clause.first().copied().unwrap_or(0);
                let other = (2..clause.len()).find(|&k| clause.get(k).is_some_and(|&l| self.at(l) >= 0));
                if self.at(first) > 0 {
                    kept.push(c);
                } else if let Some(k) = other {
                    clause.swap(1, k);
                    if let Some(list) = clause.get(1).and_then(|&l| self.watch.get_mut(slot(l))) {
                        list.push(c);
                    }
                } else {
                    kept.push(c);
                    if self.at(first) < 0 {
                        sound = false;
                    } else {
                        self.set(first);
                    }
                }
                if let Some(back) = self.clauses.get_mut(c) {
                    *back = clause;
                }
            }
            if let Some(list) = self.watch.get_mut(slot(-literal)) {
                list.extend(kept);
            }
            if !sound {
                return false;
            }
        }
        true
    }

    /// Whether a clause follows by propagation alone.
    fn follows(&mut self, clause: &[i32]) -> bool {
        if self.refuted {
            return true;
        }
        let (trail, head) = (self.trail.len(), self.head);
        let mut conflict = false;
        for &l in clause {
            self.room(l);
            match self.at(l) {
                1 => conflict = true,
                0 => self.set(-l),
                _ => {}
            }
        }
        conflict = conflict || !self.propagate();
        for l in self.trail.drain(trail..) {
            if let Some(value) = self.value.get_mut(l.unsigned_abs() as usize) {
                *value = 0;
            }
        }
        self.head = head;
        conflict
    }

    /// Checks a proof in the text form of DRAT against the clauses that were added.
    ///
    /// # Errors
    /// The line that does not hold, or that the proof never comes to the empty clause.
    pub fn check(&mut self, proof: &str) -> Result<usize, String> {
        let mut lemmas = 0;
        for (n, line) in proof.lines().enumerate() {
            if self.refuted {
                return Ok(lemmas);
            }
            let line = line.trim();
            if line.is_empty() || line.starts_with('d') {
                continue;
            }
            let numbers: Result<Vec<i32>, _> = line.split_whitespace().map(str::parse).collect();
            let Ok([clause @ .., 0]) = numbers.as_deref() else {
                return Err(format!("line {} of the solver's proof is no clause", n + 1));
            };
            if !self.follows(clause) {
                return Err(format!("lemma {} of the solver's proof does not follow", n + 1));
            }
            lemmas += 1;
            self.add(clause);
        }
        if self.refuted { Ok(lemmas) } else { Err("the solver's proof ends before it has refuted anything".to_owned()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with(clauses: &[&[i32]]) -> Propagation {
        let mut p = Propagation::default();
        clauses.iter().for_each(|c| p.add(c));
        p
    }

    #[test]
    fn a_refutation_is_taken_and_a_leap_is_not() {
        let all: &[&[i32]] = &[&[1, 2], &[1, -2], &[-1, 2], &[-1, -2]];
        assert_eq!(with(all).check("1 0\n0\n"), Ok(1));
        assert!(with(&all[..3]).check("1 0\n0\n").is_err(), "three of the four have a model");
        assert!(with(all).check("3 0\n").is_err(), "the proof stops too early");
        // the worked example of the text form's authors: eight clauses over four variables
        let eight: &[&[i32]] = &[
            &[1, 2, -3],
            &[-1, -2, 3],
            &[2, 3, -4],
            &[-2, -3, 4],
            &[-1, -3, -4],
            &[1, 3, 4],
            &[-1, 2, 4],
            &[1, -2, -4],
        ];
        assert!(with(eight).check("1 2 0\n1 0\n2 0\nd -1 2 4 0\n0\n").is_ok());
        // the authors' own proof begins with a clause that only resolution on its first literal justifies
        assert!(with(eight).check("-1 0\nd -1 2 4 0\n2 0\n0\n").is_err());
        assert!(with(eight).check("0\n").is_err(), "nothing follows at once");
    }
}
