//! What the command line offers to choose: the survey over a drawer, a split, packages that stay.
use std::path::Path;

use super::voice::Voice;
use super::{Job, JobError};
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
}

/// Refuses a device that the drawer does not hold.
pub(super) fn in_stock(drawer: Option<&Drawer>, device: &Device) -> Result<(), JobError> {
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

/// The choice among the grades that the drawer holds, where a device is not one of its parts already.
pub(super) fn at_hand(drawer: Option<&Drawer>, choice: GradeChoice) -> GradeChoice {
    let Some(drawer) = drawer else { return choice };
    choice.among(|of| {
        let mut entries = drawer.entries.iter().filter(|e| e.is_there() && e.device.name == of.device);
        entries.any(|e| e.part().grades.iter().any(|g| g.name == of.grade))
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
