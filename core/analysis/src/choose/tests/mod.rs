//! Surveys of small circuits whose figures can be worked out by hand.
mod split;

use super::{Outcome, survey, worst_delay};
use gluewright_devices::drawer::Drawer;
use gluewright_devices::fit::{Wishes, fit};
use gluewright_kernel::circuit::Circuit;
use gluewright_kernel::prelude::*;

/// A gate, a register, and a pin that drives by a condition made in two passes.
#[derive(Circuit)]
#[rustfmt::skip]
struct Bench {
    #[contact(1)] clock: Input<Clock>,
    #[contact(2)] a:     Input<Data>,
    #[contact(3)] b:     Input<Data>,
    #[contact(4)] gate:  Output<Data>,
    #[contact(5)] held:  Output<Data>,
    #[contact(6)] bus:   Output<Data, ThreeState>,
}

impl Wiring for Bench {
    fn wire(&self) -> BenchWiring {
        let (a, b) = (self.a.level(), self.b.level());
        BenchWiring {
            gate: follow(high_while(a.is_high() & b.is_high())),
            held: on(self.clock.rises()).load(a),
            bus: follow(a).drive_while((a.is_high() & b.is_high()) | (a.is_low() & b.is_low())),
        }
    }
}

fn bench() -> Circuit {
    gluewright_kernel::circuit_of::<Bench>().expect("sound")
}

#[test]
fn the_worst_delay_counts_every_pass_through_the_array() {
    let device = gluewright_devices::device::find("22V10").expect("known");
    let fitted = fit(&bench(), device, &Wishes::none()).expect("fits");
    let grade = device.grades.iter().find(|g| g.name == "-7").expect("known");
    // GAL22V10D -7 (sheet p.7): 7.5 ns to the node of the condition, 7.5 ns from it to the driver
    let delay = worst_delay(&fitted, device, grade);
    assert_eq!((delay.nanoseconds, delay.complete, delay.from_memory), (Some(15.0), true, false));
    assert!(delay.path.ends_with("b to bus"), "{}", delay.path);
}

#[test]
fn a_survey_has_a_row_for_each_entry_that_is_there() {
    let drawer = Drawer::from_csv("d.csv", "type,count\n22V10-7,2\n16V8,0\n16R8,1\n20L8,1\n").expect("sound");
    let found = survey(&bench(), None, &drawer, &Wishes::none());
    let fits: Vec<(&str, bool)> = found.rows.iter().map(|r| (r.device, r.fits())).collect();
    assert_eq!(fits, [("22V10", true), ("16R8", false), ("20L8", false)]);
    let Outcome::Fits { macrocells, widest, pins_left, delays, .. } = &found.rows[0].outcome else { panic!("fits") };
    // three contacts and the condition, of 22 pins: clock, a, b, and four macrocells
    assert_eq!((*macrocells, *pins_left, delays.len()), (4, 15, 1));
    assert_eq!(widest.as_ref().map(|w| w.terms), Some(2), "the condition: both high or both low");
    let text = found.to_string();
    for word in ["22V10", "2 there", "15 ns", "16R8", "why it doesn't fit"] {
        assert!(text.contains(word), "{word} in\n{text}");
    }
    let json = serde_json::to_value(&found).expect("data");
    assert_eq!(json["rows"][0]["outcome"], "fits");
    assert_eq!(json["rows"][2]["outcome"], "does_not_fit");
}
