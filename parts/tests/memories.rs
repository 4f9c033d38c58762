//! PROMs with contents, and dumps, as parts: what they show on their pins, what is refused, and that a proof takes them.
use gluewright::board::{Behaviour, Board, Library, Part};
use gluewright::circuit::{Circuit, Label, Stage};
use gluewright::prelude::*;
use gluewright::prove::{Failure, Question};
use gluewright::simulate::{Shown, Simulator};
use gluewright_parts::{Content, Drawer, Dump, DumpError, DumpNote, PromError, PulledTo, prom};

/// What a part's outputs show with these levels on its inputs, in lane 0.
#[allow(clippy::unwrap_used, reason = "the pins are those of the part")]
fn shows(part: &Part, levels: &[(u16, bool)], outputs: &[u16]) -> Vec<Shown> {
    let levels: Vec<(Label, bool)> = levels.iter().map(|&(pin, high)| (Label::from(pin), high)).collect();
    let (sim, _) = Simulator::new(part.circuit(), &levels, |_, _| false).unwrap();
    outputs.iter().map(|&pin| sim.shown(&Label::from(pin), 0).unwrap()).collect()
}

/// Something in every word, without a pattern.
fn words(count: u32, mask: u32) -> Vec<u8> {
    (0..count).map(|i| (i.wrapping_mul(2_654_435_761) >> 13 & mask) as u8).collect()
}

const OUTPUTS: [u16; 8] = [1, 2, 3, 4, 5, 6, 7, 9];

#[test]
fn a_prom_shows_its_words_and_lets_go_when_disabled() {
    let words = words(32, 0xFF);
    let content = Content::from_binary("u7.bin", &words).unwrap();
    for (type_number, off) in [("74S288", Stage::ThreeState), ("74S188", Stage::OpenCollector)] {
        let part = prom(type_number, "U7", &content).unwrap();
        for (address, word) in words.iter().enumerate() {
            for enabled in [true, false] {
                let mut levels = vec![(15, !enabled)];
                levels.extend((0..5u16).map(|bit| (10 + bit, address >> bit & 1 == 1)));
                let expected: Vec<Shown> = (0..8)
                    .map(|bit| match (enabled, word >> bit & 1 == 1) {
                        (true, false) => Shown::Low,
                        (true, true) if off == Stage::ThreeState => Shown::High,
                        _ => Shown::Floating,
                    })
                    .collect();
                assert_eq!(shows(&part, &levels, &OUTPUTS), expected, "{type_number} at {address}");
            }
        }
    }
}

#[test]
fn a_prom_of_nibbles_needs_both_enables() {
    let words = words(256, 0xF);
    let part = prom("74S287", "U3", &Content::from_binary("u3.bin", &words).unwrap()).unwrap();
    let address_pins = [5, 6, 7, 4, 3, 2, 1, 15];
    for (address, word) in words.iter().enumerate().step_by(7) {
        for enables in 0..4 {
            let mut levels = vec![(13, enables & 1 == 1), (14, enables & 2 == 2)];
            levels.extend(address_pins.iter().enumerate().map(|(bit, &pin)| (pin, address >> bit & 1 == 1)));
            let expected: Vec<Shown> = (0..4)
                .map(|bit| match (enables, word >> bit & 1 == 1) {
                    (0, true) => Shown::High,
                    (0, false) => Shown::Low,
                    _ => Shown::Floating,
                })
                .collect();
            assert_eq!(shows(&part, &levels, &[12, 11, 10, 9]), expected, "at {address}");
        }
    }
    // the same words with ones above them, as some programmers read them
    let ones: Vec<u8> = words.iter().map(|w| w | 0xF0).collect();
    assert!(prom("74S387", "U3", &Content::from_binary("u3.bin", &ones).unwrap()).is_ok());
}

#[test]
fn intel_hex_and_binary_are_the_same_contents() {
    let words = words(32, 0xFF);
    let mut hex = String::new();
    for (i, row) in words.chunks(16).enumerate() {
        let mut record = vec![16, 0, (i * 16) as u8, 0];
        record.extend(row);
        let sum = record.iter().fold(0u8, |sum, byte| sum.wrapping_sub(*byte));
        record.push(sum);
        hex += ":";
        hex += &record.iter().map(|byte| format!("{byte:02X}")).collect::<String>();
        hex += "\r\n";
    }
    hex += ":00000001FF\r\n";
    assert_eq!(Content::from_intel_hex("u7.hex", &hex).unwrap(), Content::from_binary("u7.bin", &words).unwrap());
}

#[test]
fn contents_that_are_not_those_of_the_prom_are_refused() {
    let content = |bytes: &[u8]| Content::from_binary("u7.bin", bytes).unwrap();
    let said = |type_number, bytes: &[u8]| prom(type_number, "U7", &content(bytes)).unwrap_err().to_string();
    assert!(said("74S288", &[0; 31]).contains("has 32 words, and the contents have 31"));
    assert!(said("74LS138", &[0; 32]).contains("no PROM of this drawer; it has 74S188, 74S287, 74S288, 74S387"));
    let mut wide = [0; 256];
    wide[200] = 0x1F;
    assert!(said("74S287", &wide).contains("word 0xc8 is 0x1f, which has more than 4 bits"));
    let hole = Content::from_intel_hex("u7.hex", ":01001F0000E0\n:00000001FF").unwrap();
    assert_eq!(prom("74S288", "U7", &hole).unwrap_err(), PromError::MissingWord { address: 0 });
    assert!(Content::from_binary("u7.bin", &[]).unwrap_err().to_string().contains("u7.bin: the file is empty"));
}

#[test]
fn a_trace_finds_a_prom_by_the_name_of_its_contents() {
    let part = prom("74S288", "select prom", &Content::from_binary("u7.bin", &words(32, 0xFF)).unwrap()).unwrap();
    let drawer = Drawer::new().with(part);
    assert!(drawer.part("SELECT PROM").is_some() && drawer.part("SN74LS00N").is_some());
    let mut card =
        String::from("ref,part,pin,net\nU7,select prom,8,GND\nU7,select prom,16,VCC\nU7,select prom,15,GND\n");
    for (pin, net) in [(1, "y"), (10, "a"), (11, "b"), (12, "GND"), (13, "GND"), (14, "GND")] {
        card += &format!("U7,select prom,{pin},{net}\n");
    }
    card += "U7,select prom,others,open\n";
    for (pin, net) in [(1, "a"), (2, "b"), (3, "y"), (4, "GND"), (5, "VCC")] {
        card += &format!("J1,contacts,{pin},{net}\n");
    }
    Board::from_csv("card.csv", &card, &drawer).unwrap().circuit().unwrap();
    let bare = drawer.part("74S288").unwrap();
    assert!(matches!(bare.behaviour(), Behaviour::Refused { mend, .. } if mend.contains("`prom`")));
}

/// A read of 1: a, 2: b and 3: enable (active low), outputs 18 and 19: 18 = a and b while enabled, else off; 19 = a or b.
fn rows() -> Vec<(usize, bool, bool, bool)> {
    (0..8)
        .map(|row| {
            let (a, b, off) = (row & 1 == 1, row & 2 == 2, row & 4 == 4);
            (row, a && b, !off, a || b)
        })
        .collect()
}

fn binary(pulled_to: PulledTo) -> Vec<u8> {
    let floating = pulled_to == PulledTo::Supply;
    let level = |and: bool, drives: bool| if drives { and } else { floating };
    rows().into_iter().map(|(_, and, drives, or)| u8::from(level(and, drives)) | u8::from(or) << 1).collect()
}

#[allow(clippy::unwrap_used, reason = "the pins are three and two")]
fn dump() -> Dump {
    Dump::new("U4", [1u16, 2, 3], [18u16, 19]).unwrap()
}

#[test]
fn a_dump_read_both_ways_tells_floating_from_driven() {
    let mut full = dump();
    for pulled_to in [PulledTo::Supply, PulledTo::Ground, PulledTo::Supply, PulledTo::Ground] {
        full = full.with_binary(pulled_to, "u4.bin", &binary(pulled_to)).unwrap();
    }
    let (part, notes) = full.part().unwrap();
    assert_eq!(notes, []);
    for (row, and, drives, or) in rows() {
        let levels = [(1, row & 1 == 1), (2, row & 2 == 2), (3, row & 4 == 4)];
        let expected = |level, drives| match (drives, level) {
            (false, _) => Shown::Floating,
            (true, true) => Shown::High,
            (true, false) => Shown::Low,
        };
        assert_eq!(shows(&part, &levels, &[18, 19]), [expected(and, drives), expected(or, true)], "row {row}");
    }
    let stage = |pin: u16| part.pin(&Label::from(pin));
    assert_eq!(stage(18), Some(gluewright::board::PinRole::Output(Stage::ThreeState)));
    assert_eq!(stage(19), Some(gluewright::board::PinRole::Output(Stage::PushPull)));
}

#[test]
fn a_csv_is_the_same_as_a_binary_file() {
    let mut csv = String::from("19,pull,3,2,1,18\n");
    for (row, and, drives, or) in rows() {
        for (pull, floating) in [("up", true), ("down", false)] {
            let level = if drives { and } else { floating };
            let bit = |high: bool| if high { "H" } else { "0" };
            let inputs = [4, 2, 1].map(|mask| bit(row & mask != 0)).join(",");
            csv += &format!("{},{pull},{inputs},{}\n", bit(or), bit(level));
        }
    }
    let (from_csv, notes) = dump().with_csv("u4.csv", &csv).unwrap().part().unwrap();
    assert!(matches!(notes.as_slice(), [DumpNote::ReadOnce { rows: 8 }]), "{notes:?}");
    for row in 0..8 {
        let levels = [(1, row & 1 == 1), (2, row & 2 == 2), (3, row & 4 == 4)];
        let mut both = dump();
        for pulled_to in [PulledTo::Supply, PulledTo::Ground] {
            both = both.with_binary(pulled_to, "u4.bin", &binary(pulled_to)).unwrap();
        }
        let (from_binary, _) = both.part().unwrap();
        assert_eq!(shows(&from_csv, &levels, &[18, 19]), shows(&from_binary, &levels, &[18, 19]));
    }
}

#[test]
fn readings_that_no_table_has_are_refused() {
    let said = |dump: Result<Dump, DumpError>| dump.and_then(|d| d.part().map(drop)).unwrap_err().to_string();
    let up = binary(PulledTo::Supply);
    let mut other = up.clone();
    other[5] ^= 2;
    let twice = dump().with_binary(PulledTo::Supply, "a", &up).unwrap().with_binary(PulledTo::Supply, "b", &other);
    assert!(said(twice).contains("output 19 at 1=H 2=L 3=H reads both high and low"));
    let swapped = dump().with_binary(PulledTo::Ground, "a", &up).unwrap().with_binary(
        PulledTo::Supply,
        "b",
        &binary(PulledTo::Ground),
    );
    assert!(said(swapped).contains("are the files swapped?"));
    assert!(
        said(dump().with_binary(PulledTo::Supply, "u4.bin", &up[1..])).contains("u4.bin: 7 bytes, but 8 rows of 1")
    );
    assert!(said(Ok(dump())).contains("U4: nothing was read"));
    assert!(said(Dump::new("U4", [1u16, 2], [2u16])).contains("pin 2 is named twice"));
    assert!(said(Dump::new("U4", 1..=21u16, [30u16])).contains("21 inputs are too many"));
    for (csv, what) in [
        ("1,2,3,18,19\n", "no column `pull`"),
        ("pull,1,2,3,18\n", "no column `19`"),
        ("pull,1,2,3,18,19,20\n", "column `20` is no pin"),
        ("pull,1,2,3,18,19\nup,1,0,,1,1\n", "u4.csv:2: an input has no level"),
        ("pull,1,2,3,18,19\nup,1,0,0,1,5\n", "u4.csv:2: `5` is no level"),
        ("pull,1,2,3,18,19\nhigh,1,0,0,1,1\n", "u4.csv:2: `high` in column `pull`"),
        ("pull,1,2,3,18,19\nup,1\n", "u4.csv:2:"),
    ] {
        let said = said(dump().with_csv("u4.csv", csv));
        assert!(said.contains(what), "{said}");
    }
}

#[test]
fn what_was_read_one_way_or_not_at_all_is_said() {
    let (_, notes) = dump().with_binary(PulledTo::Supply, "u4.bin", &binary(PulledTo::Supply)).unwrap().part().unwrap();
    let said: Vec<String> = notes.iter().map(DumpNote::to_string).collect();
    assert!(said[0].starts_with("output 18: 5 rows that read high were read with pull-ups only"), "{said:?}");
    assert!(said[2].starts_with("8 rows were read only once"), "{said:?}");
    let (_, notes) = dump().with_csv("u4.csv", "pull,1,2,3,18,19\nup,1,1,0,1,1\n").unwrap().part().unwrap();
    let said: Vec<String> = notes.iter().map(DumpNote::to_string).collect();
    assert!(said[0].starts_with("output 18: 7 of 8 rows were never read, the first of them 1=L 2=L 3=L"), "{said:?}");
}

#[derive(Circuit)]
struct And {
    #[contact(1)]
    a: Input<Data>,
    #[contact(2)]
    b: Input<Data>,
    #[contact(3)]
    y: Output<Data>,
}

impl Wiring for And {
    fn wire(&self) -> AndWiring {
        AndWiring { y: follow(high_while(self.a.level().is_high() & self.b.level().is_high())) }
    }
}

#[derive(Circuit)]
struct Copy {
    #[contact(1)]
    a: Input<Data>,
    #[contact(2)]
    b: Input<Data>,
    #[contact(3)]
    y: Output<Data>,
}

impl Wiring for Copy {
    fn wire(&self) -> CopyWiring {
        let _ = self.b;
        CopyWiring { y: follow(self.a.level()) }
    }
}

/// A dump in which the row a = H, b = L was never read: both an AND and a copy of a explain the others.
#[test]
fn a_proof_lets_a_replacement_do_anything_in_a_row_that_was_never_read() {
    let rows = |csv: &str| {
        let dump = Dump::new("U4", [1u16, 2], [3u16]).unwrap();
        Circuit::clone(dump.with_csv("u4.csv", csv).unwrap().part().unwrap().0.circuit())
    };
    let three_rows = "pull,1,2,3\nup,L,L,L\nup,L,H,L\nup,H,H,H\ndown,L,L,L\ndown,L,H,L\ndown,H,H,H\n";
    let all_rows = format!("{three_rows}up,H,L,L\ndown,H,L,L\n");
    let ask = |original: &Circuit, replacement: Circuit| Question::new(original.clone(), replacement).ask();
    let (and, copy) = (gluewright::circuit_of::<And>().unwrap(), gluewright::circuit_of::<Copy>().unwrap());
    let (three, four) = (rows(three_rows), rows(&all_rows));
    // what nobody knows is never held against a replacement
    assert!(!matches!(ask(&three, and.clone()), Err(Failure::Refuted(_))));
    assert!(ask(&three, copy.clone()).is_ok());
    assert!(ask(&four, and).is_ok());
    assert!(matches!(ask(&four, copy), Err(Failure::Refuted(_))));
}
