//! Currents at contacts against sums made by hand from data-sheet figures, each named beside its sum.
#![allow(clippy::unwrap_used, reason = "cards, parts and devices are those of this file")]
use gluewright::board::Board;
use gluewright::device::find;
use gluewright::fit::{Wishes, fit};
use gluewright::loading::{ContactLoad, Drives, Loading, loading};
use gluewright::prelude::*;
use gluewright_parts::ttl;

/// The card of a loom's lamp and bus driver: a Schmitt trigger cleans the shuttle's switch, a 7406 pulls a lamp, a 74LS05
/// asks for attention over a resistor, a 74LS244 drives a long bus.
fn card() -> Board {
    let mut rows = String::from("ref,part,pin,net\nJ1,contacts,20,VCC\nJ1,contacts,10,GND\n");
    for (label, net) in [(1, "shuttle"), (2, "lamp_n"), (3, "call_n"), (4, "oe_n"), (5, "bus"), (6, "spare")] {
        rows += &format!("J1,contacts,{label},{net}\n");
    }
    rows += "U1,74LS14,1,shuttle\nU1,74LS14,2,clean_n\nU1,74LS14,3,clean_n\nU1,74LS14,4,clean\n\
        U2,7406,1,clean\nU2,7406,2,lamp_n\n\
        U3,74LS05,1,clean\nU3,74LS05,2,call_n\nR1,resistor 1k,1,VCC\nR1,resistor 1k,2,call_n\n\
        U4,74LS244,1,oe_n\nU4,74LS244,2,clean\nU4,74LS244,18,bus\n\
        U5,74LS00,1,spare\nU5,74LS00,2,spare\nU5,74LS00,3,open\n";
    for (reference, part, vcc, gnd) in [
        ("U1", "74LS14", 14, 7),
        ("U2", "7406", 14, 7),
        ("U3", "74LS05", 14, 7),
        ("U4", "74LS244", 20, 10),
        ("U5", "74LS00", 14, 7),
    ] {
        rows +=
            &format!("{reference},{part},{vcc},VCC\n{reference},{part},{gnd},GND\n{reference},{part},others,open\n");
    }
    Board::from_csv("lamp.csv", rows, ttl()).unwrap()
}

#[derive(Circuit)]
#[rustfmt::skip]
struct Lamp {
    #[contact(1)] shuttle: Input<Data>,
    #[contact(2)] lamp:    Output<ActiveLow, OpenCollector>,
    #[contact(3)] call:    Output<ActiveLow, OpenCollector>,
    #[contact(4)] oe:      Input<ActiveLow>,
    #[contact(5)] bus:     Output<Data, ThreeState>,
    #[contact(6)] spare:   Input<Data>,
}

impl Wiring for Lamp {
    fn wire(&self) -> LampWiring {
        let clean = self.shuttle.level();
        let _ = self.spare;
        LampWiring {
            lamp: assert_while(clean.is_high()),
            call: assert_while(clean.is_high()),
            bus: follow(clean).drive_while(self.oe.asserted()),
        }
    }
}

fn both() -> Loading {
    let device = find("22V10").unwrap();
    let fitted = fit(&gluewright::circuit_of::<Lamp>().unwrap(), device, &Wishes::none()).unwrap();
    let grade = device.grades.iter().find(|g| g.name == "-15");
    loading(&card(), &fitted, device, grade)
}

fn at<'a>(all: &'a Loading, label: &str) -> &'a ContactLoad {
    all.contacts.iter().find(|c| c.at.label == label).unwrap()
}

fn near(value: Option<f64>, expected: f64) {
    assert!(value.is_some_and(|v| (v - expected).abs() < 1e-9), "{value:?}, not {expected}");
}

/// 74LS00: IIL 0.4 mA, IIH 20 µA (Motorola, FAST and LS TTL Data, p.5-2); 74LS14: the same (Fairchild DM74LS14 p.2). 22V10: IIL
/// 100 µA, IIH 10 µA, IOL 16 mA, IOH 3.2 mA (from memory).
#[test]
fn inputs_load_the_board_with_the_sum_of_their_currents() {
    let all = both();
    // two inputs of one gate on the contact
    near(at(&all, "6").original.load_low_ma, 0.8);
    near(at(&all, "6").original.load_high_ma, 0.04);
    near(at(&all, "1").original.load_low_ma, 0.4);
    near(at(&all, "1").replacement.load_low_ma, 0.1);
    near(at(&all, "1").replacement.load_high_ma, 0.01);
    assert_eq!(at(&all, "1").original.drives, Drives::Never);
    assert_eq!(at(&all, "1").original.sinks_ma, None);
}

/// 7406: IOL 40 mA at 30 V; 74LS05: IOL 8 mA, of which its 1 kΩ to 5 V takes 5 mA; 74LS244: IOL 24 mA, IOH 15 mA (limits of
/// their data files).
#[test]
fn outputs_leave_what_their_own_card_does_not_take() {
    let all = both();
    let lamp = at(&all, "2");
    assert_eq!((lamp.original.drives, lamp.replacement.drives), (Drives::LowOnly, Drives::LowOnly));
    assert!(lamp.original.sinks_ma.is_some_and(|ma| ma > 39.0), "{:?}", lamp.original.sinks_ma);
    near(lamp.replacement.sinks_ma, 16.0);
    let said = lamp.findings.join("\n");
    assert!(said.contains("sinks 16.0 mA where the original left") && said.contains("stands 30 V"), "{said}");
    let call = at(&all, "3");
    near(call.original.sinks_ma, 8.0 - 5.0);
    assert_eq!(call.original.pulls, ["pull-up 1 kΩ"]);
    let said = call.findings.join("\n");
    assert!(said.contains("stands for the open collector") && said.contains("put it on the adapter"), "{said}");
    let bus = at(&all, "5");
    assert_eq!((bus.original.drives, bus.replacement.drives), (Drives::AtTimes, Drives::AtTimes));
    near(bus.replacement.sources_ma, 3.2);
    assert!(
        bus.findings.iter().any(|f| f.starts_with("sources 3.2 mA where the original left 1")),
        "{:?}",
        bus.findings
    );
}

#[test]
fn what_is_more_than_logic_is_called_out() {
    let all = both();
    let schmitt = &at(&all, "1").findings;
    assert!(schmitt.iter().any(|f| f.contains("U1 (74LS14)") && f.contains("Schmitt")), "{schmitt:?}");
    let beyond: Vec<&str> = all.beyond.iter().map(|b| b.part.as_str()).collect();
    assert_eq!(beyond, ["U2 (7406)", "U4 (74LS244)"]);
    assert_eq!(all.beyond[0].contacts[0].label, "2");
    assert!(at(&all, "6").findings.is_empty(), "a plain gate input loads more than the device: nothing to say");
    assert!(all.notes.iter().any(|n| n.contains("unpowered device")));
}

/// Largest ICC of 74LS14 21 mA, 7406 51 mA, 74LS05 6.6 mA, 74LS244 54 mA, 74LS00 4.4 mA (data files); 22V10-15 90 mA (from
/// memory).
#[test]
fn the_supply_is_the_sum_of_the_packages() {
    let all = both();
    assert_eq!(all.supply_before.missing, [] as [&str; 0]);
    assert!((all.supply_before.ma - (21.0 + 51.0 + 6.6 + 54.0 + 4.4)).abs() < 1e-9, "{}", all.supply_before.ma);
    assert!((all.supply_after.ma - 90.0).abs() < 1e-9);
    assert!(
        all.to_string()
            .contains("Supply: before 137 mA (in part from memory) at most, after 90 mA (grade -15, from memory)"),
        "{all}"
    );
}
