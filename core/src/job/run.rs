//! The job as a program: which way the options go, what is printed and where, and the exit status.
use std::process::ExitCode;

use clap::Parser;

use super::options::Options;
use super::{Job, JobError, capture, choosing, explained, mending, record};
use crate::board::Board;
use crate::prove::Failure;
use crate::signals::Wiring;
use crate::vectors::Strength;

impl<C: Wiring> Job<C> {
    /// Reads the command line, does everything, prints what happened.
    #[must_use]
    pub fn run(mut self) -> ExitCode {
        let options = match Options::try_parse() {
            Ok(options) => options,
            Err(e) => {
                // clap prints help to standard output and mistakes to standard error, and knows their status
                let _ = e.print();
                return ExitCode::from(if e.use_stderr() { 2 } else { 0 });
            }
        };
        if options.without_vectors {
            self.testing = None;
        } else if options.levels_only {
            self.testing = Some(Strength::Levels);
        }
        if let Some(package) = &options.package {
            self.package = Some(package.clone());
        }
        if options.use_port_pins {
            self.wishes = self.wishes.without_programming_port();
        }
        if let Some(text) = &options.signature {
            self.wishes = self.wishes.signature(text.as_str());
        }
        if let Some(file) = &options.readback {
            let device = options.device.clone().unwrap_or_else(|| self.device.clone());
            return match self.read_back(&device, &options.out, file) {
                Ok(readback) => {
                    println!("{readback}");
                    if let (Some(file), Err(Failure::Refuted(r))) = (&options.explain, &readback.proof) {
                        explained::write(file, Some(&r.explain()), readback.mends.as_ref());
                    }
                    ExitCode::from(if readback.is_good() { 0 } else { 1 })
                }
                Err(e) => {
                    eprintln!("{e}");
                    ExitCode::from(e.status())
                }
            };
        }
        if options.survey {
            return self.print_survey(&options);
        }
        if let Some(file) = &options.capture {
            let listed = options.channels.as_deref();
            return capture::run(self, file, listed, std::time::Duration::from_nanos(options.skew.into()));
        }
        let (card, parts, wishes) = (self.card.as_ref().ok().cloned(), self.parts, self.wishes.clone());
        let device = options.device.clone().unwrap_or_else(|| self.device.clone());
        let in_one = !options.split && options.keep.is_empty();
        if options.drawer.is_some() && !options.split {
            match choosing::the_drawer(options.drawer.as_deref()) {
                Ok(drawer) => self.drawer = Some(drawer),
                Err(e) => {
                    eprintln!("{e}\nNothing was written.");
                    return ExitCode::from(e.status());
                }
            }
        }
        let written = if !in_one {
            let done = self.several(&options, &device);
            done.map(|d| if options.json { record::several(&d) } else { record::several_text(&d) })
        } else {
            let done = self.act(&device, &options.out);
            done.map(|d| if options.json { record::proof(&d) } else { record::text(&d) })
        };
        match written {
            Ok(text) => {
                print!("{text}");
                ExitCode::SUCCESS
            }
            Err(e) => {
                if options.json {
                    print!("{}", record::failure(C::NAME, &e));
                }
                let explanation = explained::explanation(&e, in_one.then_some((device.as_str(), &wishes)));
                match (&e, &explanation) {
                    (JobError::Proof { what, .. }, Some(explanation)) => eprintln!("{what}{}", explanation.text()),
                    _ => eprintln!("{e}"),
                }
                let findings = card.as_ref().map_or(&[][..], Board::findings);
                if matches!(e, JobError::Proof { .. } | JobError::Contacts(_)) && !findings.is_empty() {
                    eprintln!("The trace itself leaves open, and the mistake may lie there:");
                    findings.iter().for_each(|f| eprintln!("  {f}"));
                }
                let mends = mending::print(&e, card.as_ref(), parts);
                eprintln!("Nothing was written.");
                let earlier = options.out.join(C::NAME);
                if earlier.exists() {
                    let earlier = earlier.display();
                    match e {
                        JobError::Proof { .. } => {
                            eprintln!("{earlier} still holds an EARLIER result, not this source: don't burn it.");
                        }
                        _ => eprintln!("{earlier} still holds the result of an earlier run."),
                    }
                }
                if let Some(file) = &options.explain {
                    explained::write(file, explanation.as_ref(), mends.as_ref());
                }
                ExitCode::from(e.status())
            }
        }
    }
}
