//! The job as a program: which way the options go. `JobError::status` has the exit status, and `voice` returns it.
use std::path::Path;
use std::process::ExitCode;

use clap::Parser;

use super::lay::Layout;
use super::options::Options;
use super::powered::NotMade;
use super::record::{self, NotDone};
use super::voice::Voice;
use super::whole;
use super::{Chosen, HostFile, Job, JobError, bundle, capture, choosing, explained, mending, progress, screen};
use gluewright_analysis::host::HostError;
use gluewright_analysis::vectors::Strength;
use gluewright_devices::drawer::Drawer;
use gluewright_kernel::board::{Board, Finding};
use gluewright_kernel::explain::Explanation;
use gluewright_kernel::signals::Wiring;

impl<C: Wiring> Job<C> {
    /// Reads the command line, does everything, prints what happened.
    #[must_use]
    pub fn run(self) -> ExitCode {
        let options = match Options::try_parse() {
            Ok(options) => options,
            Err(e) => return wrong_use(C::NAME, &e),
        };
        let mut voice = Voice::new(options.json);
        let job = self.told_by(&options);
        let job = if progress::is_watched() { job.watched(progress::shown()) } else { job };
        let status = if !options.readback.is_empty() {
            job.run_readback(&options, &mut voice)
        } else if options.survey {
            job.run_survey(&options, &mut voice)
        } else if let Some(file) = &options.capture {
            capture::run(job, file, &options, &mut voice)
        } else {
            job.run_whole(&options, &mut voice)
        };
        voice.ends(status)
    }

    /// With what the command line says instead of what the program does.
    fn told_by(mut self, options: &Options) -> Self {
        if options.without_vectors {
            self.testing = None;
        } else if options.levels_only {
            self.testing = Some(Strength::Levels);
        }
        if options.by_causality {
            self = self.by_causality_alone();
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
        if let Some(device) = &options.device {
            self.device = device.as_str().into();
        }
        if !options.replace.is_empty() {
            self = self.replacing(options.replace.iter().cloned());
        }
        if options.split {
            self.layout = Layout::Split(options.device.as_deref().map(Chosen::from));
        } else if !options.keep.is_empty() {
            self.layout = Layout::Keep(options.keep.clone());
        }
        self
    }

    fn run_readback(mut self, options: &Options, voice: &mut Voice) -> u8 {
        if let Err(e) = self.takes_drawer(options, voice) {
            return refused(C::NAME, &e, voice);
        }
        match self.read_back_all(&options.out.join(C::NAME), &options.readback) {
            Ok(readback) => {
                voice.text(format_args!("{readback}\n"));
                if let (Some(page), Some(explanation)) = (&options.explain, &readback.explanation) {
                    voice.remark(explained::write(page, Some(explanation), readback.mends.as_ref()));
                }
                let old = options.explain.as_deref().filter(|_| readback.is_good());
                if let Some(words) = old.and_then(|page| explained::outlived(page, C::NAME)) {
                    voice.remark(words);
                }
                voice.document(&record::readback(C::NAME, &readback));
                u8::from(!readback.is_good())
            }
            Err(e) => refused(C::NAME, &e, voice),
        }
    }

    /// The drawer of the command line, in the place of the program's.
    fn takes_drawer(&mut self, options: &Options, voice: &mut Voice) -> Result<(), JobError> {
        if let Some(file) = &options.drawer {
            self.drawer = Some(choosing::the_drawer(file, voice)?);
        }
        Ok(())
    }

    /// What the command line knows of the board, in the place of what the program does.
    fn takes_host(&mut self, options: &Options) -> Result<(), JobError> {
        if let Some(file) = &options.host {
            let name = file.display().to_string();
            let bytes = std::fs::read(file).map_err(|error| HostError::Unreadable { file: name.clone(), error })?;
            self.host = Some(HostFile { name, bytes });
        }
        Ok(())
    }

    fn run_survey(self, options: &Options, voice: &mut Voice) -> u8 {
        let drawer = match &options.drawer {
            Some(file) => choosing::the_drawer(file, voice),
            None => Ok(self.drawer.clone().unwrap_or_else(Drawer::generic)),
        };
        match drawer.and_then(|drawer| self.survey(&drawer)) {
            Ok(found) => {
                voice.result(&found, &found);
                0
            }
            Err(e) => refused(C::NAME, &e, voice),
        }
    }

    /// Proves, fits, writes, and proves again.
    fn run_whole(mut self, options: &Options, voice: &mut Voice) -> u8 {
        if let Err(e) = self.takes_drawer(options, voice).and_then(|()| self.takes_host(options)) {
            voice.aside(format_args!("{e}\nNothing was written."));
            voice.document(&NotDone::new(C::NAME, &e));
            return e.status();
        }
        let before = Before { card: self.card.as_ref().ok().cloned() };
        let folder = options.out.join(C::NAME);
        let written = self.making().and_then(|made| {
            // a form that is not this job's must not leave a folder behind, nor a folder that can't be written a bundle
            let bundle = options.bundle.as_ref().map(|at| bundle::ready(&made, at, options.measured.as_deref()));
            let bundle = bundle.transpose()?;
            made.write(&folder)?;
            bundle.map_or(Ok(()), whole::Ready::place)?;
            Ok(made)
        });
        let NotMade { error: e, powered } = match written {
            Ok(made) => {
                voice.text(screen::made(&made, &folder));
                if let Some(archive) = &options.bundle {
                    voice.text(screen::bundled(archive));
                }
                if let Some(words) = options.explain.as_deref().and_then(|page| explained::outlived(page, C::NAME)) {
                    voice.remark(words);
                }
                voice.document(&record::printed(&made));
                return 0;
            }
            Err(e) => e,
        };
        let explanation = explained::explanation(&e, powered.as_ref());
        before.not_done(C::NAME, options, &e, explanation.as_ref(), voice)
    }
}

/// What a failure is told with.
struct Before {
    card: Option<Board>,
}

impl Before {
    /// Says why nothing was written, and what would mend it.
    fn not_done(
        &self,
        circuit: &str,
        options: &Options,
        e: &JobError,
        explanation: Option<&Explanation>,
        voice: &mut Voice,
    ) -> u8 {
        match (e, explanation) {
            (JobError::Proof { of, .. }, Some(explanation)) => {
                voice.aside(format_args!("{}{}", of.words(), explanation.head().trim_end()));
            }
            _ => voice.aside(e),
        }
        let may_lie_in_the_trace = matches!(e, JobError::Proof { .. } | JobError::Contacts(_));
        let card = self.card.as_ref().filter(|_| may_lie_in_the_trace);
        let open = card.map_or(&[][..], Board::findings);
        let (near, far) = on_the_way(card, explanation);
        if !near.is_empty() {
            voice.aside("\n  The check of the trace names what these contacts hang on, so look there first:");
            near.iter().for_each(|f| voice.aside(format_args!("    {f}")));
        }
        let mends = mending::search(e, self.card.as_ref(), options.mend_effort);
        if let Some(mends) = &mends {
            voice.aside(format_args!("\n{}", mends.to_string().trim_end()));
        }
        if let Some(explanation) = explanation {
            voice.aside(format_args!("\n{}\n", explanation.run()));
        }
        if !far.is_empty() {
            let rest = if near.is_empty() { "" } else { " besides" };
            voice.aside(format_args!("The trace itself leaves open{rest}, and the mistake may lie there:"));
            far.iter().for_each(|f| voice.aside(format_args!("  {f}")));
        }
        voice.aside("Nothing was written.");
        let earlier = options.out.join(circuit);
        let earlier = earlier.exists().then_some(earlier.as_path());
        if let Some(earlier) = earlier.map(Path::display) {
            voice.aside(format_args!("{earlier} still holds an EARLIER result, not this source: don't burn it."));
        }
        if let Some(page) = &options.explain {
            voice.remark(explained::write(page, explanation, mends.as_ref()));
        }
        voice.document(&NotDone::new(circuit, e).with(e, explanation, open, mends.as_ref(), earlier));
        e.status()
    }
}

/// What the check of a trace found: what bears on the contacts that differ, and the rest.
fn on_the_way<'c>(card: Option<&'c Board>, explanation: Option<&Explanation>) -> (Vec<&'c Finding>, Vec<&'c Finding>) {
    let Some(card) = card else { return Default::default() };
    let places = explanation.iter().flat_map(|e| &e.probes).flat_map(|p| &p.places);
    let reaches: Vec<_> = places.map(|at| card.reach(&at.label)).collect();
    card.findings().iter().partition(|f| reaches.iter().any(|reach| reach.is_about(f)))
}

/// An error of a run that writes nothing anyway.
pub(super) fn refused(circuit: &str, e: &JobError, voice: &mut Voice) -> u8 {
    voice.aside(e);
    voice.document(&NotDone::new(circuit, e));
    e.status()
}

/// Help on standard output; a mistake on standard error, or as a document for whoever asks for one.
fn wrong_use(circuit: &str, e: &clap::Error) -> ExitCode {
    if !e.use_stderr() {
        let _ = e.print();
        return ExitCode::SUCCESS;
    }
    let mut voice = Voice::new(std::env::args_os().any(|argument| argument == "--json"));
    voice.aside(e.render().ansi());
    voice.document(&NotDone::unasked(circuit, e.to_string().trim_end()));
    voice.ends(2)
}

#[cfg(test)]
mod tests {
    use super::super::Of;
    use super::*;
    use gluewright_kernel::prove::Failure;

    /// What a refuted source has in the document is all that a person reads on standard error.
    #[test]
    fn a_refuted_source_as_a_document() {
        let failure = explained::tests::refuted();
        let error = JobError::Proof { of: Of::Source, failure };
        let explanation = explained::explanation(&error, None).unwrap();
        let mends = match &error {
            JobError::Proof { failure: Failure::Refuted(r), .. } => {
                gluewright_analysis::mend::Mending::mend(r.as_ref(), gluewright_analysis::mend::Work::usual())
            }
            _ => panic!("refuted"),
        };
        let not_done = NotDone::new("wire", &error).with(
            &error,
            Some(&explanation),
            &["pin 3 is open"],
            Some(&mends),
            Some(Path::new("out/wire")),
        );
        let document: serde_json::Value =
            serde_json::from_str(&record::document(&not_done, &["beside it".to_owned()])).unwrap();
        assert_eq!(document["verdict"], "refuted");
        assert!(document["explanation"].as_str().unwrap().contains("contact 2 y"), "{document}");
        assert!(document["mends"]["found"][0].as_str().unwrap().starts_with("proved equal if"), "{document}");
        assert_eq!(document["trace"][0], "pin 3 is open");
        assert_eq!(document["earlier"], "out/wire");
        assert_eq!(document["remarks"][0], "beside it");
    }
}
