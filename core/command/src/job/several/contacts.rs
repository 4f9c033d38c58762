//! Times and currents at the card's contacts, with several packages in its place.
use super::result::Burned;
use crate::job::choosing;
use gluewright_analysis::loading::{self, Loading};
use gluewright_analysis::timing::{self, Budget, GradeChoice};
use gluewright_devices::device::Device;
use gluewright_devices::drawer::Drawer;
use gluewright_kernel::board::Board;

/// Times and currents at the card's contacts with these devices, and packages that stay, in its place.
pub(super) fn at_contacts(
    board: &Board,
    kept: &[String],
    burned: &[&Burned],
    budget: &Budget,
    drawer: Option<&Drawer>,
) -> (GradeChoice, Loading) {
    let seated: Vec<timing::Seated<'_>> = burned
        .iter()
        .map(|b| timing::Seated { reference: &b.reference, fitted: &b.fitted, device: b.device })
        .collect();
    let mut types: Vec<&Device> = Vec::new();
    for b in burned {
        if !types.iter().any(|d| d.name == b.device.name) {
            types.push(b.device);
        }
    }
    let times = choosing::at_hand(drawer, &types, timing::choose_grades(board, kept, &seated, budget));
    let named = |b: &Burned| {
        let best = times.best()?;
        // with several types the choice names each with its grade
        let is_it = |g: &&gluewright_devices::device::Grade| {
            best.name == g.name || best.name.split(" and ").any(|n| n == format!("{} {}", b.device.name, g.name))
        };
        b.device.grades.iter().find(is_it)
    };
    let devices: Vec<_> = burned.iter().map(|b| (&b.fitted, b.device, named(b))).collect();
    let currents = loading::loading_together(board, kept, &devices);
    (times, currents)
}
