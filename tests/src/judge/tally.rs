//! Verdicts counted.
/// Verdicts counted, and everything that was wrong with one.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    /// Pairs that were asked about.
    pub tried: usize,
    /// Refuted.
    pub refuted: usize,
    /// Of these, those whose sequence replays in the walk: no run of the original shows it.
    pub replayed: usize,
    /// Of these, those whose sequence was found to be the shortest, too.
    pub shortest: usize,
    /// Refuted, and an exhaustive search tells how long the shortest sequence is.
    pub searched: usize,
    /// Of these, those with a longer one.
    pub longer: Vec<String>,
    /// Of these, those with an event that could be left out.
    pub needless: Vec<String>,
    /// Refuted, and in the simulator from outside no start of the original shows the sequence.
    pub replayed_outside: usize,
    /// Refuted, and replayed by neither: what it is, and how many starts of it the product's own simulator counts.
    pub alone: Vec<String>,
    /// Proved, or proved but for what settling hides.
    pub equal: usize,
    /// Of these, those that hide something which nobody has acknowledged.
    pub withheld: Vec<String>,
    /// Proved, and walked through every state.
    pub walked: usize,
    /// Proved, too large for the walk as a whole, and walked through every state contact by contact.
    pub walked_in_slices: usize,
    /// Proved, and a second solver agrees with every obligation.
    pub resolved: usize,
    /// Proved by structure alone: there is nothing to ask a second solver.
    pub structural: usize,
    /// Proved, and in the simulator from outside some start of the original shows the same in every drawn run.
    pub ran_outside: usize,
    /// Proved, too many starts for that, and so contact by contact.
    pub ran_outside_in_slices: usize,
    /// Proved, and drawn runs are explained by the walk.
    pub sampled: usize,
    /// Proved, and neither walked nor seen in the simulator: only the second solver, or nobody.
    pub unseen: Vec<String>,
    /// Events that were compared in the simulator from outside.
    pub events: u64,
    /// Undecided.
    pub undecided: Vec<String>,
    /// Undecided, and the walk finds that the replacement does not always come to rest: neither verdict would be right.
    pub restless: Vec<String>,
    /// Refused: the question makes no sense, as a replacement that never rests.
    pub refused: Vec<String>,
    /// Proved, though a critical race of the replacement decides: the two orders of settling that the walk tries are both
    /// explained, but the rules ask for none.
    pub raced: Vec<String>,
    /// Wrong, with what it was.
    pub wrong: Vec<String>,
}

impl Tally {
    /// Adds another's counts.
    pub fn add(&mut self, other: Tally) {
        self.tried += other.tried;
        self.refuted += other.refuted;
        self.replayed += other.replayed;
        self.shortest += other.shortest;
        self.searched += other.searched;
        self.longer.extend(other.longer);
        self.needless.extend(other.needless);
        self.replayed_outside += other.replayed_outside;
        self.alone.extend(other.alone);
        self.equal += other.equal;
        self.withheld.extend(other.withheld);
        self.walked += other.walked;
        self.walked_in_slices += other.walked_in_slices;
        self.resolved += other.resolved;
        self.structural += other.structural;
        self.ran_outside += other.ran_outside;
        self.ran_outside_in_slices += other.ran_outside_in_slices;
        self.sampled += other.sampled;
        self.unseen.extend(other.unseen);
        self.events += other.events;
        self.undecided.extend(other.undecided);
        self.restless.extend(other.restless);
        self.refused.extend(other.refused);
        self.raced.extend(other.raced);
        self.wrong.extend(other.wrong);
    }

    /// The counts in one line.
    pub fn line(&self) -> String {
        format!(
            "tried {}: refuted {} (replayed by the walk {}, shortest by both {}, beside an exhaustive search {}: \
             longer {}, with a needless event {}; replayed outside {}, by neither {}), equal {} \
             (walked {}, in slices {}, second solver {}, by structure {}, outside {}, outside in slices {}, drawn {}, withheld {}, seen by none {}), \
             undecided {}, undecided as it never rests {}, refused {}, in spite of a race {}, wrong {}; {} events outside",
            self.tried,
            self.refuted,
            self.replayed,
            self.shortest,
            self.searched,
            self.longer.len(),
            self.needless.len(),
            self.replayed_outside,
            self.alone.len(),
            self.equal,
            self.walked,
            self.walked_in_slices,
            self.resolved,
            self.structural,
            self.ran_outside,
            self.ran_outside_in_slices,
            self.sampled,
            self.withheld.len(),
            self.unseen.len(),
            self.undecided.len(),
            self.restless.len(),
            self.refused.len(),
            self.raced.len(),
            self.wrong.len(),
            self.events
        )
    }
}

impl std::fmt::Display for Tally {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        writeln!(f, "{}", self.line())?;
        let lists = [
            ("refuted, replayed by nobody else", &self.alone),
            ("refuted by a longer sequence than the shortest", &self.longer),
            ("refuted with a needless event", &self.needless),
            ("proved, seen by nobody else", &self.unseen),
            ("withheld", &self.withheld),
            ("undecided", &self.undecided),
            ("never rests", &self.restless),
            ("refused", &self.refused),
            ("race", &self.raced),
            ("WRONG", &self.wrong),
        ];
        for (word, list) in lists {
            for what in list {
                writeln!(f, "  {word}: {what}")?;
            }
        }
        Ok(())
    }
}
