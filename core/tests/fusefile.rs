//! Fuse files from outside: the standard's worked examples, files as they come, and damaged ones.
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests fail as tests do")]
use gluewright::fusefile::{
    Finding, FuseFile, FuseFileError, Fuses, Irregularity, Note, Problem, UserData, Vector, read, write,
};
use proptest::prelude::*;

/// A file with these fields, without a transmission checksum of its own.
fn framed(fields: &str) -> Vec<u8> {
    [b"\x02Test*\r\n", fields.as_bytes(), b"\x030000"].concat()
}

fn well(fields: &str) -> (FuseFile, Vec<Irregularity>) {
    let (file, findings) = read("test.jed", &framed(fields)).unwrap();
    let what = findings.into_iter().map(|f| f.what);
    (file, what.filter(|w| *w != Irregularity::DummyTransmissionChecksum).collect())
}

fn ill(fields: &str) -> FuseFileError {
    read("test.jed", &framed(fields)).unwrap_err()
}

fn bits(text: &str) -> Vec<bool> {
    text.bytes().filter(|b| b.is_ascii_digit()).map(|b| b == b'1').collect()
}

fn ones(fuses: &Fuses) -> Vec<usize> {
    (0..fuses.len()).filter(|&f| fuses.get(f) == Some(true)).collect()
}

/// JEDEC Standard No. 3-A, worked example of a memory decoder in a 12S8.
///
/// The copy at hand is damaged: fuse numbers and states run together. The split into rows of 28 and the numbers 112, 224
/// and 336 are reconstructed; that the fuse checksum then agrees is the evidence. Its transmission checksum could not be
/// reproduced from the copy and is not checked.
const DECODER: &str = "QP20* QF448* QV8*
F0* X0*
L0000 1111101111111111111111111111*
L0028 1011111111111111111111111111*
L0056 1110111111111111111111111111*
L0112 0101011101111011111111111111*
L0224 0101011110111011111111111111*
L0336 0101011101110111111111111111*
V0001 000000XXXNXXXHHHLXXN*
V0002 010000XXXNXXXHHHLXXN*
V0003 100000XXXNXXXHHHLXXN*
V0004 110000XXXNXXXHHHLXXN*
V0005 111000XXXNXXXHLHHXXN*
V0006 111010XXXNXXXHHHHXXN*
V0007 111100XXXNXXXHHLHXXN*
V0008 111110XXXNXXXLHHHXXN*
C124E*";

#[test]
fn the_standards_memory_decoder_reads_with_its_fuse_checksum() {
    let (file, irregular) = well(DECODER);
    assert_eq!(irregular, []);
    assert_eq!((file.fuses.len(), file.fuses.checksum()), (448, 0x124E));
    assert_eq!((file.pins, file.default_level, file.vectors.len()), (Some(20), Some(false), 8));
    assert_eq!(file.vectors[5], Vector { number: 6, conditions: "111010XXXNXXXHHHHXXN".into() });
    // a row that isn't listed is in the default state
    assert!((84..112).all(|f| file.fuses.get(f) == Some(false)));
}

#[test]
fn the_printed_fuse_numbers_of_the_memory_decoder_do_not_add_up() {
    let damaged = DECODER.replace("L0112", "L0012").replace("L0224", "L0024").replace("L0336", "L0036");
    let error = ill(&damaged);
    let problem = Problem::FuseChecksum { found: 0x090B, stated: 0x124E, other_modulus: false };
    assert_eq!((error.problem, error.field.as_str(), error.line), (problem, "C", 18));
    // as the copy prints it: no space between fuse number and states
    let error = ill(&DECODER.replace("L0112 ", "L12"));
    assert!(matches!(error.problem, Problem::TooManyFuses(_)), "{error}");
    assert!(error.to_string().contains("put a space between it and what follows"), "{error}");
}

/// JEDEC Standard No. 3-A, worked example of the L field, and the same in hexadecimal (K, no part of the standard).
#[test]
fn the_standards_listing_adds_up_in_binary_and_hexadecimal() {
    let (binary, irregular) = well("F0*L0 01010101* L0008 01010111* L1000 0101*C019E*");
    assert_eq!(irregular, [Irregularity::NoFuseCount(1004)]);
    let (hexadecimal, _) = well("F0*K0 55* K0008 57* K1000 5* C019E*");
    assert_eq!(binary.fuses, hexadecimal.fuses);
    assert_eq!(ones(&binary.fuses), [1, 3, 5, 7, 9, 11, 13, 14, 15, 1001, 1003]);
    let (file, irregular) = well("QF2048*F0*L0 01010101* L0008 01010111* L1000 0101*C019E*");
    assert_eq!((file.fuses.len(), irregular), (2048, vec![]));
    assert!(matches!(ill("F0*L0 01010101* L0008 01010111* L1000 0101*C00FC*").problem, Problem::FuseChecksum { .. }));
}

/// JEDEC Standard No. 3-A, worked example of the E and U fields.
#[test]
fn electrical_data_counts_in_the_fuse_checksum_and_user_data_does_not() {
    let text = "QF24*\r\nL0000\r\n101011000000000000000000*\r\nE10100111*\r\nC011A*\r\nU10110110*\r\n";
    let (file, irregular) = well(text);
    assert_eq!(irregular, []);
    assert_eq!(file.electrical, bits("10100111"));
    assert_eq!(file.user, Some(UserData::Bits(bits("10110110"))));
    assert_eq!(file.fuses.checksum(), 0x0035);
    assert!(matches!(ill(&text.replace("011A", "0187")).problem, Problem::FuseChecksum { found: 0x011A, .. }));
    assert!(String::from_utf8(write(&file)).unwrap().contains("E10100111*\r\nC011A*\r\nU10110110*\r\n"));
}

/// JEDEC Standard No. 3-A, worked example of the pin list.
#[test]
fn the_standards_pin_list_fits_its_vectors() {
    let text = "QP20*P 1 2 3 4 5 6 14 15 16 17 7 8 9 10 11 12 13 18 19 20 *
V0001 111000HLHHNNNNNN NNNN*
V0002 100000HHHLNNNNNNNNNN*";
    let (file, irregular) = well(text);
    assert_eq!(irregular, []);
    assert_eq!(file.pin_order[5..11], [6, 14, 15, 16, 17, 7]);
    assert_eq!(file.vectors.iter().map(|v| v.conditions.len()).collect::<Vec<_>>(), [20, 20]);
    assert!(file.fuses.is_empty());
    let error = ill(&text.replace(" 20 *", "*"));
    assert_eq!((error.problem, error.line), (Problem::PinListLength { found: 19, expected: 20 }, 2));
}

/// JEDEC Standard No. 3-A, worked example of a list across lines.
#[test]
fn the_standards_list_across_lines_is_one_list() {
    let list = "L0200 01101010101010101011\r\n010111010110100010010010010*";
    let (file, irregular) = well(&format!("F0*{list}"));
    assert_eq!(irregular, [Irregularity::NoFuseCount(247), Irregularity::NoFuseChecksum]);
    assert_eq!(file.fuses.states()[200..], bits("01101010101010101011010111010110100010010010010"));
    // alone it leaves fuses without a state
    assert_eq!(ill(list).problem, Problem::NotListed(0));
}

#[test]
fn the_smallest_file_reads() {
    // computed: 02 + 2A + 03
    let (file, findings) = read("least.jed", b"\x02*\x03002F").unwrap();
    assert_eq!((file, findings), (FuseFile::default(), vec![]));
    let error = read("least.jed", b"\x02*\x030030").unwrap_err();
    assert_eq!(error.problem, Problem::TransmissionChecksum { found: 0x2F, stated: 0x30 });
}

#[test]
fn every_fuse_listed_needs_no_default() {
    let (file, irregular) = well("QF8*L0 1010*L4 0101*C00A5*");
    assert_eq!((ones(&file.fuses), irregular), (vec![0, 2, 5, 7], vec![]));
    let error = ill("QF9*L0 1010*L4 0101*C00A5*");
    assert_eq!(
        error.to_string(),
        "test.jed:2: fuse 8 is not listed and there is no F field: list every fuse or state the default"
    );
    // a default of 1, stated after what is listed
    assert_eq!(ones(&well("QF9*L0 1010*L4 0101*F1*C00A6*").0.fuses), [0, 2, 5, 7, 8]);
}

#[test]
fn the_fuse_checksum_is_taken_in_16_bits() {
    // computed: where modulus 65536 and 65535 part, all fuses 1
    for (count, sum, other) in [
        (2194, 0x10F1, 0x10F2),
        (2706, 0x50B1, 0x50B2),
        (5828, 0xD537, 0xD539),
        (5892, 0xDD2F, 0xDD31),
        (2048, 0xFF00, 0xFF00),
    ] {
        assert_eq!(Fuses::new(count, true).checksum(), sum);
        assert!(read("t.jed", &framed(&format!("QF{count}*F1*C{sum:04X}*"))).is_ok());
        if sum != other {
            let error = ill(&format!("QF{count}*F1*C{other:04X}*"));
            assert_eq!(error.problem, Problem::FuseChecksum { found: sum, stated: other, other_modulus: true });
            assert!(error.to_string().contains("modulo 65535"), "{error}");
        }
    }
}

#[test]
fn what_is_irregular_is_found_and_read_all_the_same() {
    use Irregularity::*;
    for (text, expected) in [
        ("QF8*F0*", vec![NoFuseChecksum]),
        ("F0*QF8*C0000*", vec![Late("QF".into())]),
        ("QF8*F0*L0 1*L0 0*C0000*", vec![Relisted(0)]),
        ("QF8*F0**C0000*", vec![EmptyField]),
        ("QF8*W12*F0*M*C0000*", vec![Skipped("W".into()), Skipped("M".into())]),
        ("QF8*F0*J5 7*A25*C0000*", vec![Skipped("J".into()), Skipped("A".into())]),
        ("QP2*QV1*V1 01*V2 HL*", vec![MoreVectors { found: 2, stated: 1 }]),
        ("QP2*V1 01*V1 HL*", vec![VectorAgain(1)]),
        ("V1 01*", vec![NoPinCount]),
        // JEDEC Standard No. 3-A: at most one E field, before C and before U
        ("QF8*F0*E1*E1*C0001*", vec![Again("E".into())]),
        ("QF8*F0*C0001*E1*", vec![Late("E".into())]),
        ("QF8*F0*U1*E1*C0001*", vec![Late("E".into())]),
        // from memory: user data and the pin list stand once as well
        ("QF8*F0*C0000*U1*UA again*", vec![Again("UA".into())]),
        ("QP2*P 1 2*P 2 1*V1 HL*", vec![Again("P".into())]),
        ("QP2*V1 Q1*", vec![Condition(1, 'Q')]),
        ("QF8*F0*N\tcaf\u{e9}*C0000*", vec![Characters(3, 9)]),
    ] {
        assert_eq!(well(text).1, expected, "{text}");
    }
    // old hosts fill the last block with these
    for padding in [&b"\x1a\x1a"[..], b"\0\0\r\n", b" "] {
        let bytes = [b"\x02Test*QF8*F0*C0000*\x030000".as_slice(), padding].concat();
        let found: Vec<_> = read("padded.jed", &bytes).unwrap().1.into_iter().map(|f| f.to_string()).collect();
        assert!(!found.iter().any(|f| f.contains("behind")), "{found:?}");
    }
    let bytes = [b"from: a friend\r\n\r\n".as_slice(), b"\x02Test*QF8*F0*C0000*\x03\r\nregards"].concat();
    let (_, findings) = read("mail.jed", &bytes).unwrap();
    assert_eq!(
        findings.iter().map(Finding::to_string).collect::<Vec<_>>(),
        [
            "mail.jed:1: 18 bytes before STX are ignored",
            "mail.jed:3: there is no transmission checksum behind ETX",
            "mail.jed:3: 7 bytes behind the transmission checksum are ignored",
        ]
    );
}

#[test]
fn errors_name_file_line_field_and_mend() {
    for (text, message) in [
        ("QF8*\r\nF2*", "test.jed:3: field F: `2` is no fuse state: only 0 and 1 may stand here"),
        ("QF8*\nF0*\n\nL0 012*", "test.jed:5: field L: `2` is no fuse state: only 0 and 1 may stand here"),
        ("QF8*\rF0*\rL 01*", "test.jed:4: field L: no fuse states follow the number `01`: put a space between"),
        ("QF8*F0*L4 01010*", "test.jed:2: field L: fuse 8 is listed, but QF says there are 8"),
        ("QF8*F0*K0 0G*", "test.jed:2: field K: `G` is no hexadecimal digit"),
        ("QF8*F0*F1*", "test.jed:2: field F: `0` was stated before, now `1`"),
        ("QF8*F0*G1*G0*", "test.jed:2: field G: `1` was stated before, now `0`"),
        ("QF8*F0*C0000*C0A00*", "test.jed:2: field C: `0000` was stated before, now `0A00`"),
        ("QF8*F0*K000F*", "test.jed:2: field K: nothing stands between the fuse number `000` and the states"),
        ("QF8*QF9*", "test.jed:2: field QF: `8` was stated before, now `9`"),
        ("QF99999999999999999999*F0*", "test.jed:2: field QF: 99999999999999999999 is more fuses than any device has"),
        ("QF8*F0*L99999999 1*", "test.jed:2: field L: 99999999 is more fuses than any device has"),
        ("F0*L4194303 11*", "test.jed:2: field L: 4194305 is more fuses than any device has"),
        ("QF8*F0*C12*", "test.jed:2: field C: `12` is no checksum: it has four hexadecimal digits"),
        ("QF8*F0*C0001*", "test.jed:2: field C: the fuses add up to 0000, the file says 0001"),
        ("QP3*V7 01*", "test.jed:2: field V: vector 7 has 2 conditions, QP says 3"),
        ("QPx*", "test.jed:2: field QP: `x` is no number that can stand here: write a decimal one"),
        ("P 1 b*", "test.jed:2: field P: `b` is no number"),
        ("QF8*\r\nF0", "test.jed:3: field F: it isn't ended by `*`"),
    ] {
        let error = ill(text).to_string();
        assert!(error.starts_with(message), "{error}\n{message}");
    }
    for (bytes, message) in [
        (&b""[..], "x.jed:1: there is no STX character"),
        (b"QF8*F0*", "x.jed:1: there is no STX character"),
        (b"\n\x02Test*\nQF8*", "x.jed:3: there is no ETX character (03 hex), so the file is cut short"),
        (b"\x02Test\x03", "x.jed:1: field design specification: it isn't ended by `*`"),
        (b"\x02*\x0302", "x.jed:1: `02` is no checksum"),
    ] {
        let error = read("x.jed", bytes).unwrap_err().to_string();
        assert!(error.starts_with(message), "{error}\n{message}");
    }
}

fn sample() -> FuseFile {
    let mut fuses = Fuses::new(100, false);
    for fuse in [0, 5, 44, 45, 99] {
        fuses.set(fuse, true);
    }
    FuseFile {
        design: "organ decoder\nsecond line".into(),
        notes: vec![Note::new("pin 1: clock"), Note::before(44, "pin 23"), Note::before(60, "nothing here")],
        fuses,
        lines: vec![0, 20, 44],
        pins: Some(4),
        vectors: vec![Vector { number: 1, conditions: "C0HN".into() }],
        ..FuseFile::default()
    }
}

#[test]
fn a_written_file_is_laid_out_for_programmers() {
    let text = String::from_utf8(write(&sample())).unwrap();
    let expected = "\u{2}organ decoder\r\nsecond line*\r\nQP4*\r\nQF100*\r\nQV1*\r\nN pin 1: clock*\r\nG0*\r\nF0*\r\n\
        L0000 10000100000000000000*\r\nN pin 23*\r\nL0044 1100000000000000*\r\nN nothing here*\r\n\
        L0060 0000000000000000000000000000000000000001*\r\nC0059*\r\nV0001 C0HN*\r\n\u{3}";
    assert_eq!(text.split_inclusive('\u{3}').next(), Some(expected));
    let sum = expected.bytes().map(u32::from).sum::<u32>() & 0xFFFF;
    assert_eq!(text.split('\u{3}').nth(1), Some(format!("{sum:04X}\r\n").as_str()));
}

#[test]
fn changed_line_ends_and_text_are_findings_and_changed_fuses_an_error() {
    let written = write(&sample());
    let unix: Vec<u8> = written.iter().copied().filter(|&b| b != b'\r').collect();
    let (file, findings) = read("unix.jed", &unix).unwrap();
    assert_eq!(findings.into_iter().map(|f| f.what).collect::<Vec<_>>(), [Irregularity::LineEnds("CR LF")]);
    assert_eq!(file.fuses, sample().fuses);
    let changed = String::from_utf8(unix).unwrap().replace("organ", "Organ");
    let (file, findings) = read("unix.jed", changed.as_bytes()).unwrap();
    assert!(matches!(findings[0].what, Irregularity::WrongTransmissionChecksum { .. }), "{findings:?}");
    assert_eq!(file.fuses, sample().fuses);
    // a wrong fuse, and fuses that nothing vouches for
    for (from, to) in [("L0000 1", "L0000 0"), ("C0059*", "")] {
        assert!(changed.contains(from));
        let error = read("unix.jed", changed.replace(from, to).as_bytes()).unwrap_err();
        assert!(matches!(error.problem, Problem::TransmissionChecksum { .. }), "{error}");
    }
}

#[test]
fn a_checksum_that_was_not_cut_is_compared_by_its_low_digits() {
    let (_, irregular) = well("QF8*F0*L0 10100101*C200A5*");
    assert_eq!(irregular, [Irregularity::LongChecksum("200A5".into())]);
    assert!(matches!(ill("QF8*F0*L0 10100101*C200A6*").problem, Problem::FuseChecksum { .. }));
    assert!(matches!(ill("QF8*F0*L0 10100101*C0A5*").problem, Problem::NotAChecksum(_)));
    let (_, findings) = read("least.jed", b"\x02*\x03A002F").unwrap();
    assert_eq!(findings[0].what, Irregularity::LongChecksum("A002F".into()));
    // what follows four digits is text, where it makes no checksum
    let (_, findings) = read("least.jed", b"\x02*\x03002FA").unwrap();
    assert_eq!(findings[0].what, Irregularity::TextBehind(1));
}

fn text() -> impl Strategy<Value = String> {
    "[!-)+-~]([ -)+-~\n]{0,30}[!-)+-~])?".prop_map(|t: String| {
        // blanks around line ends within a text are kept, but nothing else can be a line end
        t.replace('\r', "")
    })
}

prop_compose! {
    fn fuse_file()(
        design in prop_oneof![Just(String::new()), text()],
        about in prop::collection::vec(text(), 0..3),
        states in prop::collection::vec(any::<bool>(), 0..400),
        starts in prop::collection::vec(any::<prop::sample::Index>(), 0..12),
        noted in prop::collection::vec((any::<prop::sample::Index>(), text()), 0..4),
        electrical in prop::collection::vec(any::<bool>(), 0..20),
        user in prop_oneof![
            Just(None),
            prop::collection::vec(any::<bool>(), 0..20).prop_map(|b| Some(UserData::Bits(b))),
            "[0-9A-F]{1,8}".prop_map(|h| Some(UserData::Hex(h))),
            text().prop_map(|t| Some(UserData::Text(t))),
        ],
        security in any::<bool>(),
        default_level in any::<Option<bool>>(),
        pins in 1usize..30,
        vectors in prop::collection::btree_map(0u32..100_000, prop::collection::vec(prop::sample::select("0123456789BCDFHKLNPUXZ".as_bytes().to_vec()), 30), 0..5),
        ordered in any::<bool>(),
    ) -> FuseFile {
        let fuses = Fuses::from(states);
        let mut notes: Vec<Note> = about.into_iter().map(Note::new).collect();
        let mut before: Vec<Note> = Vec::new();
        let mut lines = Vec::new();
        if !fuses.is_empty() {
            lines = starts.iter().map(|s| s.index(fuses.len())).collect();
            before.extend(noted.into_iter().map(|(at, text)| Note::before(at.index(fuses.len()), text)));
            before.sort_by_key(|n| n.before);
        }
        notes.append(&mut before);
        let conditions = |c: Vec<u8>| c.into_iter().take(pins).map(char::from).collect();
        FuseFile {
            design,
            notes,
            security: security && !fuses.is_empty(),
            fuses,
            lines,
            electrical,
            user,
            pins: Some(pins),
            pin_order: if ordered { (1..=pins as u16).rev().collect() } else { Vec::new() },
            default_level,
            vectors: vectors.into_iter().map(|(number, c)| Vector { number, conditions: conditions(c) }).collect(),
        }
    }
}

proptest! {
    #[test]
    fn what_is_written_is_read_again(file in fuse_file()) {
        let bytes = write(&file);
        let (again, findings) = read("again.jed", &bytes).unwrap();
        prop_assert_eq!(findings, vec![]);
        // lines in the default state aren't written, so their starts don't come back
        let again = FuseFile { lines: file.lines.clone(), ..again };
        prop_assert_eq!(write(&again), bytes);
        prop_assert_eq!(again, file);
    }

    #[test]
    fn a_single_changed_character_is_noticed(file in fuse_file(), at in any::<prop::sample::Index>(), to in 1u8..128) {
        let mut bytes = write(&file);
        let at = at.index(bytes.len() - 2);
        prop_assume!(bytes[at] != to);
        bytes[at] = to;
        if let Ok((again, findings)) = read("changed.jed", &bytes) {
            let same = write(&again).eq_ignore_ascii_case(&write(&file));
            prop_assert!(same || !findings.is_empty(), "{}", String::from_utf8_lossy(&bytes));
        }
    }

    #[test]
    fn a_file_cut_short_is_noticed(file in fuse_file(), at in any::<prop::sample::Index>()) {
        let bytes = write(&file);
        let cut = &bytes[..at.index(bytes.len() - 2)];
        match read("cut.jed", cut) {
            Ok((_, findings)) => prop_assert_eq!(&findings[0].what, &Irregularity::NoTransmissionChecksum),
            Err(error) => prop_assert!(!error.to_string().is_empty()),
        }
    }

    #[test]
    fn one_wrong_fuse_is_noticed_without_the_transmission_checksum(
        states in prop::collection::vec(any::<bool>(), 1..6000),
        at in any::<prop::sample::Index>(),
    ) {
        let fuses = Fuses::from(states);
        let mut file = FuseFile { fuses: fuses.clone(), ..FuseFile::default() };
        let at = at.index(fuses.len());
        file.fuses.set(at, fuses.get(at) == Some(false));
        let mut text = String::from_utf8(write(&file)).unwrap();
        text.truncate(text.find('\u{3}').unwrap());
        let wrong = text.replace(
            &format!("C{:04X}*", file.fuses.checksum()),
            &format!("C{:04X}*", fuses.checksum()),
        ) + "\u{3}0000";
        let error = read("wrong.jed", wrong.as_bytes()).unwrap_err();
        let is_sum = matches!(error.problem, Problem::FuseChecksum { .. });
        prop_assert!(is_sum);
    }

    #[test]
    fn no_bytes_make_the_reader_panic(
        pieces in prop::collection::vec(prop_oneof![
            prop::sample::select(vec![
                &b"\x02"[..], b"*", b"QF", b"QP", b"QV", b"F", b"L", b"K", b"C", b"E", b"U", b"UA", b"UH", b"P", b"V", b"N",
                b"X", b"G", b"0", b"1", b"0000", b"4194304", b"4194305", b"99999999999", b" ", b"\r\n", b"\x03", b"FFFF",
                b"\xFF\xC3", b"HLX",
            ]).prop_map(<[u8]>::to_vec),
            prop::collection::vec(any::<u8>(), 0..4),
        ], 0..60),
    ) {
        let bytes = [b"\x02*".as_slice(), &pieces.concat(), b"\x03"].concat();
        for bytes in [&bytes[..], &bytes[2..]] {
            match read("any.jed", bytes) {
                Ok((file, findings)) => {
                    write(&file);
                    prop_assert!(findings.iter().all(|f| !f.to_string().is_empty()));
                }
                Err(error) => prop_assert!(!error.to_string().is_empty()),
            }
        }
    }
}
