//! What the command line offers to choose: the survey over a drawer, a split, packages that stay.
use std::path::Path;
use std::process::ExitCode;

use super::options::Options;
use super::{Job, JobError, Several, record};
use crate::choose::{Survey, survey};
use crate::device::Device;
use crate::drawer::{Drawer, Entry};
use crate::signals::{Wiring, build};
use crate::timing::GradeChoice;

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

/// Refuses a device that the drawer does not hold.
pub(super) fn in_stock(drawer: Option<&Drawer>, device: &'static Device) -> Result<(), JobError> {
    let Some(drawer) = drawer else { return Ok(()) };
    let there: Vec<&Entry> = drawer.entries.iter().filter(|e| e.is_there()).collect();
    if there.iter().any(|e| e.device.name == device.name) {
        return Ok(());
    }
    let mut has: Vec<&str> = there.iter().map(|e| e.device.name).collect();
    has.dedup();
    Err(JobError::NotInDrawer { device: device.name, drawer: drawer.name.clone(), has: has.join(", ") })
}

/// The choice among the grades that the drawer holds of these types.
pub(super) fn at_hand(drawer: Option<&Drawer>, types: &[&Device], choice: GradeChoice) -> GradeChoice {
    let Some(drawer) = drawer else { return choice };
    let has = |device: &Device, grade: &str| {
        let mut entries = drawer.entries.iter().filter(|e| e.is_there() && e.device.name == device.name);
        entries.any(|e| e.grades().iter().any(|g| g.name == grade))
    };
    // with several types the choice names each with its grade
    let of = |words: &str| types.iter().any(|d| words.strip_prefix(d.name).is_some_and(|grade| has(d, grade.trim())));
    choice.among(|name| match types {
        [one] => has(one, name),
        _ => name.split(" and ").all(of),
    })
}

/// The user's drawer, or the one with every known type.
pub(super) fn the_drawer(file: Option<&Path>) -> Result<Drawer, JobError> {
    let Some(path) = file else { return Ok(Drawer::generic()) };
    let drawer = Drawer::from_file(path)?;
    for problem in &drawer.unknown {
        eprintln!("Left out: {problem}");
    }
    Ok(drawer)
}
