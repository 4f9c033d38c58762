//! 16V8 and 20V8 fuse maps by the numbers of their tables (all from memory but the counts: Lattice GAL16V8 and GAL20V8
//! Data Sheets p.1).
use gluewright::circuit::{Circuit, Direction, Polarity, Start};
use gluewright::device::{
    self, Cell, Device, DeviceError, Enable, EnableSource, Function, Literal, Meaning, Plan, Remark, Role, Source, Term,
};
use gluewright::fusefile::Fuses;

use super::by_hand::Map;
use super::evaluator::{Levels, pin, register};

fn find(name: &str) -> &'static Device {
    device::find(name).unwrap()
}

fn lift(name: &str, map: Map) -> Circuit {
    find(name).lift(&map.0).unwrap()
}

/// Pin, first and last row, first-row fuses, array fuses, XOR, AC1, product-term fuses.
type Row = (u16, [usize; 2], [usize; 2], [usize; 2], usize, usize, [usize; 2]);

#[rustfmt::skip]
const TABLE_16: [Row; 8] = [
    (19, [ 0,  7], [   0,   31], [   0,  255], 2048, 2120, [2128, 2135]),
    (18, [ 8, 15], [ 256,  287], [ 256,  511], 2049, 2121, [2136, 2143]),
    (17, [16, 23], [ 512,  543], [ 512,  767], 2050, 2122, [2144, 2151]),
    (16, [24, 31], [ 768,  799], [ 768, 1023], 2051, 2123, [2152, 2159]),
    (15, [32, 39], [1024, 1055], [1024, 1279], 2052, 2124, [2160, 2167]),
    (14, [40, 47], [1280, 1311], [1280, 1535], 2053, 2125, [2168, 2175]),
    (13, [48, 55], [1536, 1567], [1536, 1791], 2054, 2126, [2176, 2183]),
    (12, [56, 63], [1792, 1823], [1792, 2047], 2055, 2127, [2184, 2191]),
];

#[rustfmt::skip]
const TABLE_20: [Row; 8] = [
    (22, [ 0,  7], [   0,   39], [   0,  319], 2560, 2632, [2640, 2647]),
    (21, [ 8, 15], [ 320,  359], [ 320,  639], 2561, 2633, [2648, 2655]),
    (20, [16, 23], [ 640,  679], [ 640,  959], 2562, 2634, [2656, 2663]),
    (19, [24, 31], [ 960,  999], [ 960, 1279], 2563, 2635, [2664, 2671]),
    (18, [32, 39], [1280, 1319], [1280, 1599], 2564, 2636, [2672, 2679]),
    (17, [40, 47], [1600, 1639], [1600, 1919], 2565, 2637, [2680, 2687]),
    (16, [48, 55], [1920, 1959], [1920, 2239], 2566, 2638, [2688, 2695]),
    (15, [56, 63], [2240, 2279], [2240, 2559], 2567, 2639, [2696, 2703]),
];

#[test]
fn fuse_ranges_are_those_of_the_tables() {
    for (name, table, columns, total, signature) in
        [("16V8", TABLE_16, 32, 2194, 2056..2120), ("20V8", TABLE_20, 40, 2706, 2568..2632)]
    {
        let d = find(name);
        assert_eq!((d.columns(), d.rows, d.fuses, d.signature.clone()), (columns, 64, total, Some(signature)));
        for mode in &d.modes {
            for (m, (pin, rows, first_row, array, xor, ac1, terms)) in mode.macrocells.iter().zip(table) {
                assert_eq!((m.pin, m.polarity), (pin, Some(xor)));
                assert_eq!(m.rows, rows[0]..rows[1] + 1);
                assert_eq!([d.array_fuse(rows[0], 0), d.array_fuse(rows[0], columns - 1)], first_row);
                assert_eq!([d.array_fuse(rows[0], 0), d.array_fuse(rows[1], columns - 1)], array);
                assert_eq!(d.term_enables.map(|f| [f + rows[0], f + rows[1]]), Some(terms));
                for c in &m.configurations {
                    let expected = match (mode.name, c.function) {
                        ("registered", Function::Registered) => (false, rows[0], EnableSource::Pin(d_enable(name))),
                        ("registered" | "complex", Function::Combinational) => {
                            (true, rows[0] + 1, EnableSource::Row(rows[0]))
                        }
                        ("simple", Function::Combinational) => (false, rows[0], EnableSource::Always),
                        ("simple", Function::Input) => {
                            assert_eq!((c.fuses.as_slice(), c.enable), (&[(ac1, true)][..], EnableSource::Never));
                            continue;
                        }
                        other => panic!("{other:?}"),
                    };
                    assert_eq!((c.fuses.as_slice(), c.enable), (&[(ac1, expected.0)][..], expected.2));
                    assert_eq!(c.rows, expected.1..rows[1] + 1);
                }
                assert_eq!(m.configurations.len(), if mode.name == "complex" { 1 } else { 2 });
            }
        }
    }
}

fn d_enable(name: &str) -> u16 {
    if name == "16V8" { 11 } else { 13 }
}

#[test]
fn mode_fuses_are_those_of_the_table() {
    for (name, syn, ac0) in [("16V8", 2192, 2193), ("20V8", 2704, 2705)] {
        let modes: Vec<_> = find(name).modes.iter().map(|m| (m.name, m.fuses.clone(), m.clock)).collect();
        assert_eq!(
            modes,
            [
                ("simple", vec![(syn, true), (ac0, false)], None),
                ("complex", vec![(syn, true), (ac0, true)], None),
                ("registered", vec![(syn, false), (ac0, true)], Some(1)),
            ]
        );
        let neither = find(name).lift(&Fuses::new(find(name).fuses, false)).unwrap_err();
        assert_eq!(neither, DeviceError::UndefinedMode { device: find(name).name, fuses: format!("{syn}=0 {ac0}=0") });
    }
}

#[test]
fn columns_are_those_of_the_tables() {
    for (name, mode, columns) in [
        ("16V8", "registered", "2 f19 3 f18 4 f17 5 f16 6 f15 7 f14 8 f13 9 f12"),
        ("16V8", "complex", "2 1 3 f18 4 f17 5 f16 6 f15 7 f14 8 f13 9 11"),
        ("16V8", "simple", "2 1 3 f19 4 f18 5 f17 6 f14 7 f13 8 f12 9 11"),
        ("20V8", "registered", "2 23 3 f22 4 f21 5 f20 6 f19 7 f18 8 f17 9 f16 10 f15 11 14"),
        ("20V8", "complex", "2 1 3 23 4 f21 5 f20 6 f19 7 f18 8 f17 9 f16 10 14 11 13"),
        ("20V8", "simple", "2 1 3 23 4 f22 5 f21 6 f20 7 f17 8 f16 9 f15 10 14 11 13"),
    ] {
        let mode = find(name).modes.iter().find(|m| m.name == mode).unwrap();
        let text: Vec<String> = mode
            .columns
            .iter()
            .map(|s| match s {
                Source::Pin(n) => n.to_string(),
                Source::Feedback(n) => format!("f{n}"),
            })
            .collect();
        assert_eq!(text.join(" "), columns, "{name} {}", mode.name);
    }
    use Role::*;
    assert_eq!(
        [1, 2, 9, 10, 11, 12, 19, 20].map(|n| find("16V8").role(n).unwrap()),
        [ClockInput, Input, Input, Gnd, EnableInput, Io, Io, Vcc]
    );
    assert_eq!(
        [1, 2, 11, 12, 13, 14, 15, 22, 23, 24].map(|n| find("20V8").role(n).unwrap()),
        [ClockInput, Input, Input, Gnd, EnableInput, Input, Io, Io, Input, Vcc]
    );
}

/// Pins 19 (active low) and 18 (active high) load pins 2 and 3, pin 17 shows feedback 19, pin 16 the complement of
/// feedback 18 while pin 9 is high.
fn registered_16() -> Map {
    Map::new(2194)
        .ones(2128..=2191)
        .ones([2193])
        .row(0..=31, &[0])
        .row(256..=287, &[4])
        .ones([2049])
        .row(512..=543, &[])
        .row(544..=575, &[2])
        .ones([2050, 2122])
        .row(768..=799, &[28])
        .row(800..=831, &[7])
        .ones([2051, 2123])
        .ones(2052..=2055)
        .ones(2124..=2127)
}

#[test]
fn a_16v8_in_registered_mode() {
    let c = lift("16V8", registered_16());
    let low = Levels::default();
    assert_eq!(register(&c, 19, &low), Some((false, false, false)));
    assert_eq!(register(&c, 19, &Levels::high(&[1, 2])), Some((true, false, true)));
    assert_eq!(register(&c, 18, &low), Some((true, false, false)));
    assert_eq!(register(&c, 18, &Levels::high(&[3])), Some((false, false, false)));
    // the pin always shows the complement of the register, and so does the true feedback
    for (held, shown) in [(&[][..], true), (&[18, 19][..], false)] {
        let levels = Levels::high(&[9]).holding(held);
        for p in [17, 18, 19] {
            assert_eq!(pin(&c, p, &levels), Some(shown), "pin {p}");
        }
        assert_eq!(pin(&c, 16, &levels), Some(!shown));
    }
    assert_eq!(pin(&c, 16, &low), None);
    // pin 11 high: the registered pins float, what is fed back stays
    let disabled = Levels::high(&[11]);
    assert_eq!([19, 18, 17, 15].map(|p| pin(&c, p, &disabled)), [None, None, Some(true), None]);
    assert!(c.elements().iter().all(|e| e.start == Start::Low));
    assert_eq!(c.elements().len(), 2);
    let contact = |n: u16| &c.contacts()[c.find_contact(&n.into()).unwrap().index()];
    assert_eq!((contact(1).polarity, contact(2).polarity), (Polarity::Clock, Polarity::Data));
    assert_eq!(
        [11, 15, 16, 17, 18].map(|n| contact(n).direction),
        [Direction::Input, Direction::Input, Direction::InOut, Direction::Output, Direction::InOut]
    );
    assert_eq!(c.contacts().len(), 18);
    // power-up: every enabled registered pin is high whatever its polarity
    assert_eq!([false, true].map(|i| find("16V8").pin_at_power_up(i)), [Some(true); 2]);
}

/// Pin 19 = pin 1 ∧ ¬pin 11, always driven; pin 13 = ¬feedback 18 while pin 9 is high.
fn complex_16() -> Map {
    Map::new(2194)
        .ones(2128..=2191)
        .ones([2192, 2193])
        .ones(2120..=2127)
        .row(0..=31, &[])
        .row(32..=63, &[2, 31])
        .ones(2048..=2053)
        .row(1536..=1567, &[28])
        .row(1568..=1599, &[6])
        .ones([2055])
}

#[test]
fn a_16v8_in_complex_mode() {
    let c = lift("16V8", complex_16());
    for (high, p19) in [(&[][..], false), (&[1], true), (&[1, 11], false), (&[11], false)] {
        assert_eq!(pin(&c, 19, &Levels::high(high)), Some(p19), "{high:?}");
    }
    assert_eq!(pin(&c, 13, &Levels::high(&[9])), Some(true));
    assert_eq!(pin(&c, 13, &Levels::high(&[9, 18])), Some(false));
    assert_eq!(pin(&c, 13, &Levels::high(&[18])), None);
    assert_eq!([12, 14, 15, 16, 17, 18].map(|p| pin(&c, p, &Levels::default())), [None; 6]);
    assert!(c.elements().is_empty());
}

/// A complex 16V8 whose macrocell at pin 12 has AC1 = 0: no data sheet has that in this mode.
fn with_a_cell_that_nobody_describes() -> Fuses {
    let mut map = complex_16().0;
    let ac1 = 2120 + 7;
    map.set(ac1, false);
    (7 * 256..8 * 256).for_each(|fuse| {
        map.set(fuse, false);
    });
    map
}

#[test]
fn a_macrocell_that_nobody_describes_reads_if_it_has_nothing_to_show() {
    let d = find("16V8");
    let mut map = with_a_cell_that_nobody_describes();
    let c = d.lift(&map).unwrap();
    assert_eq!(pin(&c, 12, &Levels::default()), None);
    assert!(!d.decode(&map).unwrap().cells.contains_key(&12));
    let of_pin = |r: &&Remark| matches!(r, Remark::NotDescribed { pin: 12, .. });
    assert_eq!(d.remarks(&map).iter().filter(of_pin).count(), 1);
    // one term that can be true, and it is refused as before
    map.set(7 * 256 + 1, true);
    (2..256).for_each(|fuse| {
        map.set(7 * 256 + fuse, true);
    });
    assert!(matches!(d.lift(&map), Err(DeviceError::UndefinedConfiguration { pin: 12, .. })), "{:?}", d.remarks(&map));
    assert!(d.decode(&map).is_err());
    // of one row that has some links, and seven that have all: whether it reads a signal and its complement is what counts
    for (links, reads) in [(&[0, 3, 9][..], false), (&[10, 11], true), (&[11, 12], false), (&[30, 31], true)] {
        let mut map = with_a_cell_that_nobody_describes();
        (0..32).for_each(|column| {
            map.set(7 * 256 + column, !links.contains(&column));
        });
        assert_eq!(d.lift(&map).is_ok(), reads, "{links:?}");
    }
}

#[test]
fn what_each_fuse_is_for_is_told_by_its_place() {
    let (d, map) = (find("16V8"), complex_16().0);
    for (fuse, complement) in [(0, false), (1, true), (32 + 6, false), (32 + 7, true)] {
        match d.meaning(&map, fuse) {
            Meaning::Link { row, literal: Some(literal), .. } => {
                assert_eq!((row, literal.complement), (fuse / 32, complement), "{fuse}");
            }
            other => panic!("{fuse}: {other:?}"),
        }
    }
    // SYN and AC0 are the last two of a 16V8 (Lattice GAL16V8 Data Sheet); some makers have one more
    let told = [2192, 2193, 2194, 2195].map(|fuse| d.meaning(&map, fuse));
    assert_eq!(told, [Meaning::Mode, Meaning::Mode, Meaning::PowerDown, Meaning::Unknown]);
    let with_power_down: Vec<_> = device::all().iter().filter(|d| d.power_down.is_some()).collect();
    for d in with_power_down {
        let fuse = d.power_down.unwrap();
        assert_eq!(d.meaning(&Fuses::new(d.fuses, false), fuse), Meaning::PowerDown, "{}", d.name);
        assert_ne!(d.meaning(&Fuses::new(d.fuses, false), fuse - 1), Meaning::PowerDown, "{}", d.name);
    }
}

#[test]
fn a_device_that_has_no_signature_lacks_none() {
    for d in device::all().iter().filter(|d| d.blocks.is_none() && d.signature.is_none()) {
        assert!(!d.remarks(&Fuses::new(d.fuses, false)).contains(&Remark::NoSignature), "{}", d.name);
    }
}

#[test]
fn unused_terms_that_are_switched_off_are_one_line() {
    let d = find("16V8");
    let mut map = complex_16().0;
    for row in 56..64 {
        (0..32).for_each(|column| {
            map.set(row * 32 + column, false);
        });
        map.set(2128 + row, false);
    }
    assert_eq!(d.remarks(&map), [Remark::UnusedTermsOff { terms: 8 }]);
    map.set(2128 + 1, false);
    assert_eq!(d.remarks(&map), [Remark::TermOff { row: 1, fuse: 2129 }, Remark::UnusedTermsOff { terms: 8 }]);
}

#[test]
fn a_product_term_that_is_switched_off_is_false() {
    let mut map = complex_16().0;
    map.set(2129, false);
    let d = find("16V8");
    assert_eq!(pin(&d.lift(&map).unwrap(), 19, &Levels::high(&[1])), Some(false));
    assert_eq!(d.remarks(&map), [Remark::TermOff { row: 1, fuse: 2129 }]);
    map.set(2128, false);
    assert_eq!(pin(&d.lift(&map).unwrap(), 19, &Levels::high(&[1])), None);
    assert!(!d.decode(&map).unwrap().cells.contains_key(&19));
}

#[test]
fn complex_mode_defines_nothing_for_a_macrocell_without_ac1() {
    let mut map = complex_16().0;
    map.set(2120, false);
    assert_eq!(
        find("16V8").lift(&map).unwrap_err().to_string(),
        "the fuses 2120=0 of the 16V8's macrocell at pin 19 choose no configuration: set them as a data sheet has them in complex mode"
    );
}

/// Pin 19 = feedback 18, pin 12 = ¬(pin 11 ∧ feedback 19); the others are inputs.
fn simple_16() -> Map {
    Map::new(2194)
        .ones(2128..=2191)
        .ones([2192])
        .ones(2121..=2126)
        .row(0..=31, &[10])
        .ones(2048..=2054)
        .row(1792..=1823, &[30, 6])
}

#[test]
fn a_16v8_in_simple_mode() {
    let c = lift("16V8", simple_16());
    assert_eq!(pin(&c, 19, &Levels::default()), Some(false));
    assert_eq!(pin(&c, 19, &Levels::high(&[18])), Some(true));
    assert_eq!(pin(&c, 12, &Levels::high(&[11])), Some(true));
    assert_eq!(pin(&c, 12, &Levels::high(&[11, 19])), Some(false));
    assert_eq!([13, 14, 15, 16, 17, 18].map(|p| pin(&c, p, &Levels::default())), [None; 6]);
}

#[test]
fn a_20v8_in_its_modes() {
    // pin 22 loads pin 23 ∧ pin 14; pin 15 = feedback 22
    let c = lift(
        "20V8",
        Map::new(2706)
            .ones(2640..=2703)
            .ones([2705])
            .row(0..=39, &[2, 38])
            .row(2240..=2279, &[])
            .row(2280..=2319, &[6])
            .ones([2567])
            .ones(2633..=2639),
    );
    assert_eq!(register(&c, 22, &Levels::high(&[23, 14])), Some((true, false, false)));
    assert_eq!(register(&c, 22, &Levels::high(&[1, 23])), Some((false, false, true)));
    assert_eq!(pin(&c, 15, &Levels::default()), Some(true));
    assert_eq!(pin(&c, 15, &Levels::default().holding(&[22])), Some(false));
    assert_eq!([&[][..], &[13]].map(|high| pin(&c, 22, &Levels::high(high))), [Some(true), None]);
    // pin 18 = ¬(pin 13 ∧ pin 1 ∧ feedback 21)
    let c = lift(
        "20V8",
        Map::new(2706).ones(2640..=2705).ones(2632..=2639).row(1280..=1319, &[]).row(1320..=1359, &[38, 2, 10]),
    );
    assert_eq!(pin(&c, 18, &Levels::high(&[1, 13, 21])), Some(false));
    assert_eq!(pin(&c, 18, &Levels::high(&[1, 21])), Some(true));
    // pin 22 = feedback 17 ∧ pin 11, the others inputs
    let c = lift("20V8", Map::new(2706).ones(2640..=2704).ones(2633..=2639).ones([2560]).row(0..=39, &[22, 36]));
    assert_eq!(pin(&c, 22, &Levels::high(&[17, 11])), Some(true));
    assert_eq!(pin(&c, 22, &Levels::high(&[17])), Some(false));
    assert_eq!(pin(&c, 17, &Levels::default()), None);
}

#[test]
fn erased_parts_drive_every_macrocell_high() {
    for (name, pins) in [("16V8", 12..=19), ("20V8", 15..=22)] {
        let d = find(name);
        let c = d.lift(&Fuses::new(d.fuses, true)).unwrap();
        for n in pins {
            assert_eq!(pin(&c, n, &Levels::default()), Some(true), "{name} pin {n}");
        }
    }
}

#[test]
fn the_plans_of_maps_made_by_hand_encode_to_the_same_maps() {
    for map in [registered_16().0, complex_16().0, simple_16().0] {
        let mut expected = map.clone();
        // polarity of what isn't driven is left open by the maps, and set by encoding
        let plan = find("16V8").decode(&map).unwrap();
        for (pin, _, _, _, xor, _, _) in TABLE_16 {
            if !plan.cells.contains_key(&pin) {
                expected.set(xor, true);
            }
        }
        assert_eq!(find("16V8").encode(&plan).unwrap(), expected, "{plan:#?}");
    }
}

#[test]
fn what_a_device_cannot_do_is_said_with_the_mend() {
    let term = |source| Term(vec![Literal::high(source)]);
    let cell = |function, enable, terms| Cell { function, inverted: false, enable, terms, exclusive: Vec::new() };
    let (complex, registered) = (1, 2);
    let plan = |mode, pin, cell| Plan { mode, cells: [(pin, cell)].into(), ..Plan::default() };
    use Function::{Combinational, Registered};
    for (name, plan, message) in [
        ("16V8", Plan { mode: 3, ..Plan::default() }, "the 16V8 has no mode number 3: it has 3, counted from 0"),
        (
            "16V8",
            plan(complex, 11, cell(Combinational, Enable::Always, vec![])),
            "pin 11 of the 16V8 has no macrocell: choose one of 19, 18, 17, 16, 15, 14, 13, 12",
        ),
        (
            "16V8",
            plan(complex, 19, cell(Registered, Enable::Pin, vec![])),
            "the 16V8's macrocell at pin 19 can't be registered in complex mode: use another pin, mode or device",
        ),
        (
            "16V8",
            plan(complex, 19, cell(Combinational, Enable::Always, vec![Term::always(); 8])),
            "pin 19 of the 16V8 has 7 product terms, 8 are needed: use a wider macrocell or split the equation",
        ),
        (
            "16V8",
            plan(registered, 19, cell(Registered, Enable::Never, vec![])),
            "pin 19 of the 16V8 is enabled by the enable pin in this configuration, not at no time: use another pin or mode",
        ),
        (
            "16V8",
            plan(registered, 19, cell(Combinational, Enable::Always, vec![term(Source::Pin(1))])),
            "pin 1 doesn't reach the 16V8's array in this mode: use another pin or mode",
        ),
        (
            "16V8",
            Plan { reset: Some(Term::always()), ..Plan::default() },
            "the 16V8 has no reset term: write it into the equations or choose a device that has one",
        ),
        (
            "22V10",
            Plan { signature: vec![65; 9], ..Plan::default() },
            "the 22V10's signature holds 8 bytes, not 9: shorten it",
        ),
        (
            "16R8",
            plan(0, 12, cell(Combinational, Enable::Always, vec![])),
            "the 16R8's macrocell at pin 12 can't be combinational: use another pin, mode or device",
        ),
        (
            "16L8",
            plan(0, 12, cell(Combinational, Enable::Always, vec![])),
            "pin 12 of the 16L8 always shows the complement of its sum: invert the equation",
        ),
    ] {
        assert_eq!(find(name).encode(&plan).unwrap_err().to_string(), message);
    }
}
