//! What the command line offers to choose: the survey over a drawer, a split, packages that stay.
use std::path::Path;
use std::process::ExitCode;

use super::options::Options;
use super::{Job, JobError, Several, record};
use crate::choose::{Survey, survey};
use crate::drawer::Drawer;
use crate::signals::{Wiring, build};

impl<C: Wiring> Job<C> {
    /// Fits the circuit into every device of a drawer, and says what else there is: a split, packages that stay. Nothing
    /// is proved and nothing is written.
    ///
    /// # Errors
    /// If the circuit or the trace has errors.
    pub fn survey(self, drawer: &Drawer) -> Result<Survey, JobError> {
        Ok(survey(&build::<C>()?, Some(&self.card?), drawer, &self.wishes))
    }

    pub(super) fn print_survey(self, options: &Options) -> ExitCode {
        let found = the_drawer(options.drawer.as_deref()).and_then(|drawer| self.survey(&drawer));
        match found {
            Ok(found) if options.json => {
                // nothing in a survey can fail to be JSON: strings and numbers only
                println!("{}", serde_json::to_string_pretty(&found).unwrap_or_default());
                ExitCode::SUCCESS
            }
            Ok(found) => {
                print!("{found}");
                ExitCode::SUCCESS
            }
            Err(e) => {
                if options.json {
                    print!("{}", record::failure(C::NAME, &e));
                }
                eprintln!("{e}");
                ExitCode::from(e.status())
            }
        }
    }

    /// What `--split` and `--keep` do.
    pub(super) fn several(self, options: &Options, device: &str) -> Result<Several, JobError> {
        if options.keep.is_empty() {
            let drawer = the_drawer(options.drawer.as_deref())?;
            return self.act_split(options.device.as_deref(), &drawer, &options.out);
        }
        self.act_keep(&options.keep, device, &options.out)
    }
}

/// The user's drawer, or the one with every known type.
fn the_drawer(file: Option<&Path>) -> Result<Drawer, JobError> {
    let Some(path) = file else { return Ok(Drawer::generic()) };
    let drawer = Drawer::from_file(path)?;
    for problem in &drawer.unknown {
        eprintln!("Left out: {problem}");
    }
    Ok(drawer)
}
