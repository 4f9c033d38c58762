//! What the command line offers to choose: the survey over a drawer, a split, packages that stay.
use std::path::Path;

use super::options::Options;
use super::voice::Voice;
use super::{Job, JobError, Several};
use gluewright_analysis::choose::{Survey, survey};
use gluewright_analysis::timing::GradeChoice;
use gluewright_devices::device::Device;
use gluewright_devices::drawer::{Drawer, Entry};
use gluewright_kernel::signals::{Wiring, build};

impl<C: Wiring> Job<C> {
    /// Fits the circuit into every device of a drawer, and says what else there is: a split, packages that stay. Nothing
    /// is proved and nothing is written.
    ///
    /// # Errors
    /// If the circuit or the trace has errors.
    pub fn survey(self, drawer: &Drawer) -> Result<Survey, JobError> {
        Ok(survey(&build::<C>()?, Some(&self.card?), drawer, &self.wishes))
    }

    /// What `--split` and `--keep` do.
    pub(super) fn several(self, options: &Options, device: &str) -> Result<Several, JobError> {
        if options.keep.is_empty() {
            let drawer = self.drawer.clone().unwrap_or_else(Drawer::generic);
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
    let mut has: Vec<&str> = Vec::new();
    for entry in there {
        if !has.contains(&entry.device.name) {
            has.push(entry.device.name);
        }
    }
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

/// The user's drawer.
pub(super) fn the_drawer(path: &Path, voice: &mut Voice) -> Result<Drawer, JobError> {
    let drawer = Drawer::from_file(path)?;
    for problem in &drawer.unknown {
        voice.remark(format_args!("Left out: {problem}"));
    }
    Ok(drawer)
}
