//! 22V10 fuse maps by the numbers of its tables (Lattice "Specifications GAL22V10", GAL22LV10 p.13, ispGAL22V10A p.2;
//! order, columns and S0/S1 from memory).
use gluewright::circuit::{Direction, Polarity, Start};
use gluewright::device::{self, Device, DeviceError, EnableSource, Feedback, Function, Remark, Role, Source};
use gluewright::fusefile::Fuses;

use super::by_hand::Map;
use super::evaluator::{Levels, pin, register};

fn device() -> &'static Device {
    device::find("22v10").unwrap()
}

/// Pin, terms, enable row and its fuses, logic rows and their fuses, S0, S1.
#[rustfmt::skip]
const TABLE: [(u16, usize, usize, [usize; 2], [usize; 2], [usize; 2], usize, usize); 10] = [
    (23,  8,   1, [  44,   87], [  2,   9], [  88,  439], 5808, 5809),
    (22, 10,  10, [ 440,  483], [ 11,  20], [ 484,  923], 5810, 5811),
    (21, 12,  21, [ 924,  967], [ 22,  33], [ 968, 1495], 5812, 5813),
    (20, 14,  34, [1496, 1539], [ 35,  48], [1540, 2155], 5814, 5815),
    (19, 16,  49, [2156, 2199], [ 50,  65], [2200, 2903], 5816, 5817),
    (18, 16,  66, [2904, 2947], [ 67,  82], [2948, 3651], 5818, 5819),
    (17, 14,  83, [3652, 3695], [ 84,  97], [3696, 4311], 5820, 5821),
    (16, 12,  98, [4312, 4355], [ 99, 110], [4356, 4883], 5822, 5823),
    (15, 10, 111, [4884, 4927], [112, 121], [4928, 5367], 5824, 5825),
    (14,  8, 122, [5368, 5411], [123, 130], [5412, 5763], 5826, 5827),
];

#[test]
fn fuse_ranges_are_those_of_the_table() {
    let d = device();
    let mode = &d.modes[0];
    assert_eq!((d.columns(), d.rows, d.modes.len()), (44, 132, 1));
    assert_eq!(mode.reset.map(|r| d.array_fuse(r, 0)), Some(0));
    assert_eq!(mode.preset.map(|r| [d.array_fuse(r, 0), d.array_fuse(r, 43)]), Some([5764, 5807]));
    assert_eq!(mode.macrocells.len(), TABLE.len());
    for (m, (pin, terms, enable, enable_fuses, rows, row_fuses, s0, s1)) in mode.macrocells.iter().zip(TABLE) {
        assert_eq!((m.pin, m.polarity), (pin, Some(s0)));
        assert_eq!([d.array_fuse(enable, 0), d.array_fuse(enable, 43)], enable_fuses);
        for function in [Function::Combinational, Function::Registered] {
            let c = m.configuration(function).unwrap();
            assert_eq!(c.enable, EnableSource::Row(enable));
            assert_eq!((c.rows.start, c.rows.end, c.rows.len()), (rows[0], rows[1] + 1, terms));
            assert_eq!([d.array_fuse(rows[0], 0), d.array_fuse(rows[1], 43)], row_fuses);
            assert_eq!(c.fuses, [(s1, function == Function::Combinational)]);
        }
        assert_eq!(m.configuration(Function::Registered).unwrap().feedback, Feedback::InvertedQ);
        assert_eq!(m.configuration(Function::Combinational).unwrap().feedback, Feedback::Pin);
    }
    // Lattice GAL22LV10 p.13: 5828 without, 5892 with signature
    assert_eq!((d.fuses, d.signature.clone(), &d.other_sizes[..1]), (5892, Some(5828..5892), &[5828][..]));
}

#[test]
fn lines_of_a_fuse_file_are_rows_and_blocks() {
    let lines = device().lines();
    assert_eq!(lines[..3], [0, 44, 88]);
    assert_eq!(lines[131..], [5764, 5808, 5828]);
}

#[test]
fn columns_are_those_of_the_table() {
    let text = |s: &Source| match s {
        Source::Pin(n) => n.to_string(),
        Source::Feedback(n) => format!("f{n}"),
    };
    let columns: Vec<String> = device().modes[0].columns.iter().map(text).collect();
    let table = "1 f23 2 f22 3 f21 4 f20 5 f19 6 f18 7 f17 8 f16 9 f15 10 f14 11 13";
    assert_eq!(columns.join(" "), table);
    let roles = [1, 2, 12, 13, 14, 23, 24].map(|n| device().role(n));
    use Role::*;
    assert_eq!(roles, [ClockInput, Input, Gnd, Input, Io, Io, Vcc].map(Some));
}

/// Pin 23 = pin 1 ∧ ¬pin 2 ∨ pin 11, active high, always driven; pin 14 the complement of pin 13, driven while
/// feedback 23 is high.
fn combinational() -> Map {
    Map::new(5892)
        .row(44..=87, &[])
        .row(88..=131, &[0, 5])
        .row(132..=175, &[40])
        .ones([5808, 5809])
        .row(5368..=5411, &[2])
        .row(5412..=5455, &[42])
        .ones([5827])
        .ones(5810..=5825)
}

#[test]
fn combinational_macrocells_do_what_their_fuses_say() {
    let circuit = device().lift(&combinational().0).unwrap();
    for (high, p23) in [
        (&[][..], false),
        (&[1], true),
        (&[1, 2], false),
        (&[2], false),
        (&[11], true),
        (&[2, 11], true),
        (&[12, 13, 14, 22], false),
    ] {
        assert_eq!(pin(&circuit, 23, &Levels::high(high)), Some(p23), "{high:?}");
    }
    assert_eq!(pin(&circuit, 14, &Levels::high(&[23])), Some(true));
    assert_eq!(pin(&circuit, 14, &Levels::high(&[13, 23])), Some(false));
    assert_eq!(pin(&circuit, 14, &Levels::high(&[13])), None);
    assert!(circuit.elements().is_empty());
    // every pin but 12 and 24 is a contact, and only what drives is an output
    let labels: Vec<u16> = circuit.contacts().iter().filter_map(|c| c.label.number()).collect();
    assert_eq!(labels, (1..=23).filter(|&n| n != 12).collect::<Vec<_>>());
    for c in circuit.contacts() {
        let expected = match c.label.number() {
            Some(23) => Direction::Output,
            Some(14) => Direction::InOut,
            _ => Direction::Input,
        };
        assert_eq!(c.direction, expected, "pin {}", c.label);
        assert_eq!((c.name.clone(), c.polarity), (format!("pin {}", c.label), Polarity::Data));
    }
}

/// Pins 22 (active low) and 21 (active high) both load pin 3; reset by pin 4, preset by pin 5. Pin 20 shows feedback
/// 22, pin 19 feedback 21. Pin 21's driver is off.
fn registered() -> Map {
    Map::new(5892)
        .row(0..=43, &[12])
        .row(5764..=5807, &[16])
        .row(440..=483, &[])
        .row(484..=527, &[8])
        .row(968..=1011, &[8])
        .ones([5812])
        .row(1496..=1539, &[])
        .row(1540..=1583, &[6])
        .ones([5814, 5815])
        .row(2156..=2199, &[])
        .row(2200..=2243, &[10])
        .ones([5816, 5817])
        .ones([5808, 5809])
        .ones(5818..=5827)
}

#[test]
fn registered_macrocells_feed_back_the_complement_of_their_register() {
    let circuit = device().lift(&registered().0).unwrap();
    let (low, all) = (Levels::default(), Levels::high(&[22, 21]).holding(&[21, 22]));
    // the pin with S0 = 0 shows the complement; feedback ignores the pin, so pin 20 equals pin 22 and pin 19 opposes 21
    assert_eq!(pin(&circuit, 22, &low), Some(true));
    assert_eq!(pin(&circuit, 22, &all), Some(false));
    assert_eq!(pin(&circuit, 20, &low), Some(true));
    assert_eq!(pin(&circuit, 20, &all), Some(false));
    assert_eq!(pin(&circuit, 19, &low), Some(true));
    assert_eq!(pin(&circuit, 19, &all), Some(false));
    assert_eq!(pin(&circuit, 21, &all), None);
    for r in [21, 22] {
        // data, clear, clock
        assert_eq!(register(&circuit, r, &low), Some((false, false, false)));
        assert_eq!(register(&circuit, r, &Levels::high(&[1, 3])), Some((true, false, true)));
        assert_eq!(register(&circuit, r, &Levels::high(&[4])), Some((false, true, false)));
        assert_eq!(register(&circuit, r, &Levels::high(&[5])), Some((true, false, false)));
        let element = circuit.find_element(&format!("register {r}")).unwrap();
        assert_eq!(circuit.elements()[element.index()].start, Start::Low);
    }
    assert_eq!(circuit.elements().len(), 2);
    let clock = circuit.find_contact(&1.into()).unwrap();
    assert_eq!(circuit.contacts()[clock.index()].polarity, Polarity::Clock);
}

#[test]
fn a_registered_pin_that_drives_shows_its_register_or_the_complement() {
    // as above, pin 21 driven too
    let circuit = device().lift(&registered().row(924..=967, &[]).0).unwrap();
    assert_eq!(pin(&circuit, 21, &Levels::default()), Some(false));
    assert_eq!(pin(&circuit, 21, &Levels::default().holding(&[21])), Some(true));
}

#[test]
fn power_up_levels_follow_from_polarity() {
    // Lattice "Specifications GAL22V10" p.1: power-up reset; levels from memory
    assert_eq!(device().pin_at_power_up(true), Some(true));
    assert_eq!(device().pin_at_power_up(false), Some(false));
    let m = device().modes[0].macrocell(22).unwrap();
    let (r, c) = (m.configuration(Function::Registered).unwrap(), m.configuration(Function::Combinational).unwrap());
    assert!(device().feedback_opposes_pin(r, false) && !device().feedback_opposes_pin(r, true));
    assert!(!device().feedback_opposes_pin(c, false) && !device().feedback_opposes_pin(c, true));
}

#[test]
fn an_erased_part_drives_every_macrocell_high() {
    let circuit = device().lift(&Fuses::new(5892, true)).unwrap();
    for n in 14..=23 {
        assert_eq!(pin(&circuit, n, &Levels::default()), Some(true));
    }
}

#[test]
fn a_part_of_links_only_never_drives() {
    let circuit = device().lift(&Fuses::new(5892, false)).unwrap();
    assert_eq!(circuit.elements().len(), 10);
    for n in 14..=23 {
        assert_eq!(pin(&circuit, n, &Levels::default()), None);
    }
}

#[test]
fn the_plan_of_a_map_made_by_hand_encodes_to_the_same_map() {
    // unlisted macrocells of both maps are as encoding leaves them: combinational, active high, undriven
    for map in [combinational().0, registered().0] {
        let plan = device().decode(&map).unwrap();
        assert_eq!(device().encode(&plan).unwrap(), map, "{plan:#?}");
    }
}

#[test]
fn signatures_stand_byte_by_byte_most_significant_bit_first() {
    let plan = gluewright::device::Plan { signature: b"A\x01".to_vec(), ..Default::default() };
    let fuses = device().encode(&plan).unwrap();
    let ones: Vec<usize> = (5828..5892).filter(|&f| fuses.get(f) == Some(true)).collect();
    assert_eq!(ones, [5829, 5835, 5843]);
    assert_eq!(device().decode(&fuses).unwrap().signature, b"A\x01");
}

#[test]
fn other_sizes_are_read_and_remarked_on() {
    let mut short = combinational().0.states().to_vec();
    short.truncate(5828);
    let short = Fuses::from(short);
    assert_eq!(device().remarks(&short), [Remark::NoSignature]);
    assert_eq!(device().decode(&short), device().decode(&combinational().0));
    let mut long = combinational().0.states().to_vec();
    long.push(false);
    assert_eq!(device().remarks(&Fuses::from(long.clone())), [Remark::PowerDownFuse { fuse: 5892 }]);
    assert!(device().lift(&Fuses::from(long.clone())).is_ok());
    long[5892] = true;
    let error = DeviceError::PowerDown { device: "22V10", fuse: 5892 };
    assert_eq!(device().lift(&Fuses::from(long)).err(), Some(error));
    let error = device().lift(&Fuses::new(2194, false)).unwrap_err().to_string();
    assert_eq!(
        error,
        "a 22V10 has 5892 or 5828 or 5893 fuses, this fuse map has 2194: choose the device that the file was made for"
    );
}
