//! The devices by maker: what each one's sheet gives. A file for each family of types; this one holds how they are written.
mod atf;
mod bipolar;
mod gal;
mod palce;

use crate::device::{Electrical, Figure, Grade, Make, Provenance, Shortest};

/// Not given.
const N: f64 = f64::NAN;

/// The makes of this type.
pub(super) fn of(device: &str) -> Vec<Make> {
    [gal::makes(device), atf::makes(device), palce::makes(device), bipolar::makes(device)].concat()
}

fn figure(from: Provenance, value: f64) -> Option<Figure> {
    (!value.is_nan()).then_some(Figure { value, from })
}

/// A grade. `longest`: input to output, clock to output, clock to feedback, setup, clock high, clock low, enable and disable
/// by a term, by the pin, reset to output, reset width, reset recovery, preset recovery. The hold time of every sheet that
/// was seen is 0.
fn grade(name: &'static str, from: Provenance, longest: [f64; 14], supply: Option<Figure>) -> Grade {
    let [tpd, tco, tcf, tsu, high, low, ten, tdis, pen, pdis, tar, tarw, tarr, tspr] = longest;
    let f = |value| figure(from, value);
    Grade {
        name,
        propagation: f(tpd),
        clock_to_output: f(tco),
        clock_to_feedback: f(tcf),
        setup: f(tsu),
        hold: f(tsu).map(|setup| Figure { value: 0.0, ..setup }),
        clock_high: f(high),
        clock_low: f(low),
        term_enable: f(ten),
        term_disable: f(tdis),
        pin_enable: f(pen),
        pin_disable: f(pdis),
        reset_to_output: f(tar),
        reset_width: f(tarw),
        reset_recovery: f(tarr),
        preset_recovery: f(tspr),
        supply_current: supply,
        shortest: Shortest::default(),
    }
}

/// The least delays: input to output, clock to output, enable and disable by a term, by the pin, reset to output.
fn shortest(from: Provenance, least: [f64; 7]) -> Shortest {
    let [tpd, tco, ten, tdis, pen, pdis, tar] = least;
    let f = |value| figure(from, value);
    Shortest {
        propagation: f(tpd),
        clock_to_output: f(tco),
        term_enable: f(ten),
        term_disable: f(tdis),
        pin_enable: f(pen),
        pin_disable: f(pdis),
        reset_to_output: f(tar),
    }
}

/// A figure that nobody looked up.
fn remembered(value: f64) -> Option<Figure> {
    figure(Provenance::Memory, value)
}

/// TTL levels, and what the pins carry: input current low and high in µA, output current low and high in mA.
fn limits(parts: &'static str, from: Provenance, [iil, iih, iol, ioh]: [f64; 4]) -> Electrical {
    let f = |value| figure(from, value);
    Electrical {
        parts,
        vil_max: f(0.8),
        vih_min: f(2.0),
        iil: f(iil),
        iih: f(iih),
        vol_max: f(0.5),
        iol: f(iol),
        voh_min: f(2.4),
        ioh: f(ioh),
        ..Electrical::default()
    }
}
