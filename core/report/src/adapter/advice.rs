//! What to do with pins that carry no signal.
use crate::page::resistance;
use gluewright_devices::device::{Device, Electrical, OpenPin, Termination};

/// What to do with pins that carry no signal, inputs and macrocells', by what holds an open pin of the types that are
/// known.
pub(crate) fn advice(device: &Device, inputs: bool, macrocells: bool) -> Vec<String> {
    let mut said = if inputs { advice_on_inputs(device) } else { Vec::new() };
    if macrocells {
        said.push(match device.blocks {
            None => {
                let OpenPin { some_hold, all_hold, ohms } = device.open_pin();
                let resistor = format!(
                    "to ground through {}, not with a wire: another fuse file may drive it (common practice, no source)",
                    resistance(ohms)
                );
                let what = match (all_hold, some_hold) {
                    (true, _) => "Leave it open: it is held inside".to_owned(),
                    (false, true) => {
                        format!("Leave it open where the type has a pull-up or a keeper; else tie it {resistor}")
                    }
                    (false, false) => format!("Tie it {resistor}"),
                };
                format!("A macrocell's pin without a signal is never driven by this fuse file. {what}.")
            }
            Some(_) => {
                "What a macrocell's pin without a signal does is up to the maker's fitter: read its report, and leave the \
                 pin open unless that says otherwise. Never wire it to ground: a fitter may drive it (common practice, no \
                 source)."
                    .to_owned()
            }
        });
    }
    said
}

fn advice_on_inputs(device: &Device) -> Vec<String> {
    let mut said = Vec::new();
    if let Some((part, its)) = device.part.as_ref().zip(device.electrical.first()).filter(|(p, _)| p.has_limits) {
        let from = its.termination.1;
        return vec![match its.termination.0 {
            Termination::PullUp => {
                format!("{part} has a pull-up on every pin: leave them open, or tie them to ground ({from}).")
            }
            Termination::Keeper => format!(
                "{part} has a circuit that keeps the last level: they may stay open, tied to ground they are quieter ({from})."
            ),
            Termination::None | Termination::Unknown => format!(
                "{part}: tie inputs to ground with a wire; whether anything inside holds an open one is not known here (common \
                 practice, no source)."
            ),
        }];
    }
    let named = |wanted: Termination| -> Vec<String> {
        let is = |e: &&Electrical| e.termination.0 == wanted;
        device.electrical.iter().filter(is).map(|e| format!("{} ({})", e.parts, e.termination.1)).collect()
    };
    let pulled = named(Termination::PullUp);
    if !pulled.is_empty() {
        said.push(format!(
            "Types with a pull-up on every pin: leave them open, or tie them to ground. {}.",
            pulled.join("; ")
        ));
    }
    let kept = named(Termination::Keeper);
    if !kept.is_empty() {
        said.push(format!(
            "Types with a circuit that keeps the last level: they may stay open, tied to ground they are quieter. {}.",
            kept.join("; ")
        ));
    }
    let others = if said.is_empty() {
        "Unless the sheet of the very maker says otherwise"
    } else {
        "All other types, and whenever the sheet of the very maker is not at hand"
    };
    said.push(format!(
        "{others}: tie inputs to ground with a wire; never leave an input of a CMOS part open (common practice, no source)."
    ));
    said
}
