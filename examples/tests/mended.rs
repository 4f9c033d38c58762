//! Single slips in each of the examples: what undoes itself must be found again, and soon.
//!
//! `cargo test --release -p gluewright-examples --test checks mended:: -- --nocapture` prints what each search took.
#![allow(clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
use gluewright::mend::Mending;
use std::collections::BTreeMap;
use std::time::Duration;

use gluewright::board::Board;
use gluewright::circuit::Circuit;
use gluewright::edit::{Edit, EditKind, edits_by_line};
use gluewright::idioms::count_up;
use gluewright::mend::{Mends, Place};
use gluewright::prelude::*;
use gluewright::prove::{Claim, Question};
use gluewright_examples::{loom_bridge, organ_memory, organ_pistons, sample_card};

/// Kinds of slips that are their own mend.
const UNDONE: [EditKind; 5] = [
    EditKind::EdgeSwapped,
    EditKind::ConditionInverted,
    EditKind::LevelInverted,
    EditKind::SignalsExchanged,
    EditKind::ContactsExchanged,
];

/// The first slip of each kind that the original tells from the source, and one in the middle of the list.
fn slips(question: &Question) -> Vec<(Edit, Box<gluewright::prove::Refutation>)> {
    let replacement = question.replacement();
    let mut by_kind: BTreeMap<EditKind, Vec<Edit>> = BTreeMap::new();
    for edit in edits_by_line(replacement) {
        if UNDONE.contains(&edit.kind) {
            by_kind.entry(edit.kind).or_default().push(edit);
        }
    }
    let mut all = Vec::new();
    for edits in by_kind.into_values() {
        let refuted = |edit: &Edit| match question.clone().about(edit.apply(replacement)).in_another_form().ask() {
            Err(Failure::Refuted(r)) => Some((edit.clone(), r)),
            _ => None,
        };
        all.extend(edits.iter().take(4).find_map(refuted));
    }
    all
}

fn each_is_mended(name: &str, question: &Question, board: &Board) {
    let slips = slips(question);
    assert!(slips.len() >= 2, "{name}: {} slips", slips.len());
    for (slip, refutation) in slips {
        let mends = refutation.mend_with_trace(board, Duration::from_secs(300));
        println!(
            "{name}: {:.2} s, {} asked, {} open, {} found: {}",
            mends.time.as_secs_f64(),
            mends.asked,
            mends.undecided,
            mends.found.len(),
            slip.words()
        );
        assert!(!mends.cut_short && !mends.found.is_empty(), "{name}, {}: {mends}", slip.words());
        // bounded by work, not by the clock
        assert!(mends.asked <= 96, "{mends}");
    }
}

fn ask<C: gluewright::Wiring>(claim: Claim<C>, card: Board) -> (Question, Board) {
    let (_, question) = claim.question(&card).expect("it builds");
    (question, card)
}

#[test]
fn slips_of_the_sample_card() {
    let (question, card) = ask(prove::<sample_card::SampleCard>(), sample_card::lost_card().expect("sound"));
    each_is_mended("sample card", &question, &card);
}

#[test]
fn slips_of_the_loom_bridge() {
    let claim = prove::<loom_bridge::LoomBridge>()
        .acknowledging("clash_n")
        .acknowledging("data of U1.q[0] and 7 others of the original when 3 to_loom changes")
        .acknowledging("data of U2.q[0] and 7 others of the original when 3 to_loom changes")
        .acknowledging("data of a[0] and 7 others of the replacement when 3 to_loom changes")
        .acknowledging("data of b[0] and 7 others of the replacement when 3 to_loom changes");
    let (question, card) = ask(claim, loom_bridge::lost_bridge().expect("sound"));
    each_is_mended("loom bridge", &question, &card);
}

#[test]
fn slips_of_the_organ() {
    let (question, card) = ask(prove::<organ_memory::OrganMemory>(), organ_memory::lost_card().expect("sound"));
    each_is_mended("organ memory", &question, &card);
    let (question, card) = ask(
        prove::<organ_pistons::OrganPistons>().assuming(organ_pistons::breaks_before_it_makes),
        organ_pistons::lost_card().expect("sound"),
    );
    each_is_mended("organ pistons", &question, &card);
}

/// A whole card on the wrong edge: every register at once.
#[test]
fn a_wrong_clock_edge_of_the_whole_card() {
    let claim = prove::<loom_bridge::LoomBridge>()
        .acknowledging("clash_n")
        .acknowledging("data of U1.q[0] and 7 others of the original when 3 to_loom changes")
        .acknowledging("data of U2.q[0] and 7 others of the original when 3 to_loom changes")
        .acknowledging("data of a[0] and 7 others of the replacement when 3 to_loom changes")
        .acknowledging("data of b[0] and 7 others of the replacement when 3 to_loom changes");
    let (question, card) = ask(claim, loom_bridge::lost_bridge().expect("sound"));
    let right: &Circuit = question.replacement();
    let edits = edits_by_line(right);
    let whole = edits.iter().filter(|e| e.kind == EditKind::EdgeSwapped).max_by_key(|e| e.name.len());
    let whole = whole.expect("it has registers");
    println!("{}", whole.words());
    let Err(Failure::Refuted(r)) = question.clone().about(whole.apply(right)).in_another_form().ask() else {
        panic!("refuted")
    };
    let mends = r.mend_with_trace(&card, Duration::from_secs(300));
    println!("{mends}");
    assert!(mends.found.iter().any(|m| m.to_string().contains("`clock` counts at its other level")), "{mends}");
}

/// The lamps of a telephone exchange: eight lines, each half shown while it is switched on.
#[derive(Circuit)]
#[rustfmt::skip]
struct Lamps {
    #[contact(1)]       left:  Input<ActiveLow>,
    #[contact(2)]       right: Input<ActiveLow>,
    #[contact(11..=18)] line:  [Input<Data>; 8],
    #[contact(21..=28)] lamp:  [Output<Data, ThreeState>; 8],
}

impl Wiring for Lamps {
    fn wire(&self) -> LampsWiring {
        let (left, right) = (self.left.asserted(), self.right.asserted());
        LampsWiring { lamp: each(|i| follow(self.line[i].level()).drive_while(if i < 4 { left } else { right })) }
    }
}

/// The lamps' card: an octal buffer with a type number of this choice.
fn lamps_card(buffer: &str) -> Board {
    let own = [(1, "left"), (2, "right"), (40, "VCC"), (20, "GND")].map(|(c, n)| (c, n.to_owned()));
    let bits = |first: u16, name: &'static str| (0..8).map(move |i| (first + i, format!("{name}{i}")));
    let ins = [2, 4, 6, 8, 11, 13, 15, 17].into_iter().enumerate().map(|(i, pin)| (pin, format!("line{i}")));
    let outs = [18, 16, 14, 12, 9, 7, 5, 3].into_iter().enumerate().map(|(i, pin)| (pin, format!("lamp{i}")));
    let rest = [(1, "left"), (19, "right"), (20, "VCC"), (10, "GND")].map(|(p, n)| (p, n.to_owned()));
    Board::builder("lamps")
        .contacts("J1", own.into_iter().chain(bits(11, "line")).chain(bits(21, "lamp")))
        .chip("U1", buffer, ins.chain(outs).chain(rest))
        .finish(gluewright_parts::ttl())
        .expect("sound, whatever the buffer")
}

/// A party line of the exchange: eight wires pass inverted, one way or the other.
#[derive(Circuit)]
#[rustfmt::skip]
struct PartyLine {
    #[contact(1)]       onward: Input<ActiveHigh>,
    #[contact(2)]       joined: Input<ActiveLow>,
    #[contact(11..=18)] near:   [InOut<Data, ThreeState>; 8],
    #[contact(21..=28)] far:    [InOut<Data, ThreeState>; 8],
}

impl Wiring for PartyLine {
    fn wire(&self) -> PartyLineWiring {
        let (onward, joined) = (self.onward.asserted(), self.joined.asserted());
        PartyLineWiring {
            near: each(|i| follow(!self.far[i].level()).drive_while(joined & !onward)),
            far: each(|i| follow(!self.near[i].level()).drive_while(joined & onward)),
        }
    }
}

fn party_card(transceiver: &str) -> Board {
    let own = [(1, "onward"), (2, "joined"), (40, "VCC"), (20, "GND")].map(|(c, n)| (c, n.to_owned()));
    let bits = |first: u16, name: &'static str| (0..8).map(move |i| (first + i, format!("{name}{i}")));
    let far = (0..8u16).map(|i| (18 - i, format!("far{i}")));
    let rest = [(1, "onward"), (19, "joined"), (20, "VCC"), (10, "GND")].map(|(p, n)| (p, n.to_owned()));
    Board::builder("party_line")
        .contacts("J1", own.into_iter().chain(bits(11, "near")).chain(bits(21, "far")))
        .chip("U1", transceiver, bits(2, "near").chain(far).chain(rest))
        .finish(gluewright_parts::ttl())
        .expect("sound, whatever the transceiver")
}

fn mends_of<C: Wiring>(card: &Board) -> Mends {
    let Err(Failure::Refuted(r)) = prove::<C>().against(card).run() else { panic!("refuted") };
    let mends = r.mend_with_trace(card, Duration::from_secs(120));
    println!("{mends}");
    mends
}

/// The source is right, and the trace has a part number that is not what is on the card.
#[test]
fn a_wrong_part_number_is_found_in_the_trace() {
    prove::<Lamps>().against(&lamps_card("74LS244")).run().expect("with the right number it is proved");
    let mends = mends_of::<Lamps>(&lamps_card("74LS240"));
    assert!(mends.to_string().contains("proved equal if U1 is a 74LS244 instead of a 74LS240"), "{mends}");
    // that one has the same pins too, but switches its right half on when it should be off
    assert!(mends.found.iter().all(|m| !m.words.contains("74LS241")), "{mends}");

    prove::<PartyLine>().against(&party_card("74LS640")).run().expect("with the right number it is proved");
    let mends = mends_of::<PartyLine>(&party_card("SN74LS245N"));
    let of_trace: Vec<_> = mends.found.iter().filter(|m| m.place == Place::Trace).map(|m| m.words.as_str()).collect();
    assert_eq!(of_trace, ["U1 is a 74LS640 instead of a 74LS245"], "{mends}");
}

/// A gate of the exchange's bell: it rings while both are asserted, or while either is.
#[test]
fn a_gate_of_another_kind_is_found_in_the_trace() {
    #[derive(Circuit)]
    struct Bell {
        #[contact(1, 2)]
        call: [Input<Data>; 2],
        #[contact(3)]
        bell: Output<Data>,
    }
    impl Wiring for Bell {
        fn wire(&self) -> BellWiring {
            BellWiring { bell: follow(high_while(self.call[0].level().is_high() | self.call[1].level().is_high())) }
        }
    }
    let card = |gate: &str| {
        let rows = [(1, "a"), (2, "b"), (3, "bell"), (14, "VCC"), (7, "GND")];
        let unused =
            [4, 5, 9, 10, 12, 13].map(|pin| (pin, "GND")).into_iter().chain([6, 8, 11].map(|pin| (pin, "open")));
        Board::builder("bell")
            .contacts("J1", rows)
            .chip("U1", gate, rows.into_iter().chain(unused))
            .finish(gluewright_parts::ttl())
            .expect("sound, whatever the gate")
    };
    prove::<Bell>().against(&card("74LS32")).run().expect("with the right number it is proved");
    let mends = mends_of::<Bell>(&card("74LS08"));
    assert!(mends.to_string().contains("proved equal if U1 is a 74LS32 instead of a 74LS08"), "{mends}");
}

/// A lamp line of a loom that several cards pull low.
#[derive(Circuit)]
struct Lamp {
    #[contact(1)]
    broken: Input<ActiveHigh>,
    #[contact(2)]
    lamp: Output<ActiveLow>,
}

impl Wiring for Lamp {
    fn wire(&self) -> LampWiring {
        LampWiring { lamp: assert_while(self.broken.asserted()) }
    }
}

/// Who forgets the open collector is told so first; that the trace may be wrong is never said without the danger.
#[test]
fn no_mend_asks_for_a_driver_on_a_shared_line_without_its_danger() {
    let card = Board::from_csv(
        "lamp",
        "ref,part,pin,net\nJ1,contacts,1,broken\nJ1,,2,lamp_n\nJ1,,14,VCC\nJ1,,7,GND\nU6,74LS05,1,broken\nU6,,2,lamp_n\n\
         U6,,14,VCC\nU6,,7,GND\nU6,,3,GND\nU6,,5,GND\nU6,,9,GND\nU6,,11,GND\nU6,,13,GND\nU6,,others,open\n",
        gluewright_parts::ttl(),
    )
    .unwrap_or_else(|e| panic!("{e}"));
    let Err(Failure::Refuted(r)) = prove::<Lamp>().against(&card).run() else { panic!("it drives the line high") };
    let mends = r.mend_with_trace(&card, Duration::from_secs(60));
    println!("{mends}");
    let first = mends.found.first().map(|m| m.words.as_str()).unwrap_or_default();
    assert_eq!(first, "`lamp` is an open collector instead of a driver of both levels");
    let traced: Vec<String> = mends.found.iter().filter(|m| m.place == Place::Trace).map(ToString::to_string).collect();
    assert!(!traced.is_empty() && traced.iter().all(|said| said.starts_with("danger: ")), "{traced:?}");
}

/// A relay of an exchange: it is held while called and not let go.
#[derive(Circuit)]
struct Relay {
    #[contact(1, 2)]
    call: [Input<Data>; 2],
    #[contact(3)]
    spare: Input<Data>,
    #[contact(4)]
    held: Output<Data>,
}

impl Wiring for Relay {
    fn wire(&self) -> RelayWiring {
        let both = self.call[0].level().is_high() & self.call[1].level().is_high();
        RelayWiring { held: follow(low_while(both)) }
    }
}

/// The relay's card; pin 2 of its gate is on this net, or has no row.
fn relay_card(pin_2: Option<&str>) -> Board {
    let row = pin_2.map_or(String::new(), |net| format!("U1,,2,{net}\n"));
    let rows = format!(
        "ref,part,pin,net\nJ1,contacts,1,call_a\nJ1,,2,call_b\nJ1,,3,spare\nJ1,,4,held\nJ1,,14,VCC\nJ1,,7,GND\n\
         U1,74LS00,1,call_a\n{row}U1,,3,held\nU1,,14,VCC\nU1,,7,GND\nU1,,4,GND\nU1,,5,GND\nU1,,9,GND\nU1,,10,GND\n\
         U1,,12,GND\nU1,,13,GND\nU1,,6,open\nU1,,8,open\nU1,,11,open\n"
    );
    Board::from_csv("relay", rows, gluewright_parts::ttl()).unwrap_or_else(|e| panic!("{e}"))
}

/// What comes to the same stands under one heading, and nothing of it is lost: the pin on another net, the two contacts
/// exchanged.
#[test]
fn changes_of_the_trace_that_come_to_the_same_are_one_mend() {
    prove::<Relay>().against(&relay_card(Some("call_b"))).run().expect("with the right net it is proved");
    let mends = mends_of::<Relay>(&relay_card(Some("spare")));
    let traced: Vec<_> = mends.found.iter().filter(|m| m.place == Place::Trace).collect();
    let ways = |m: &gluewright::mend::Mend| {
        let own = std::iter::once(m.words.clone());
        own.chain(m.ways.iter().map(|way| way.words.clone())).collect::<Vec<_>>()
    };
    let alike = traced.iter().map(|m| ways(m)).find(|ways| ways.len() > 1).unwrap_or_else(|| panic!("{mends}"));
    for words in ["U1 pin 2 is on the net `call_b` instead of `spare`", "contacts 2 and 3 of the trace are exchanged"] {
        assert!(alike.iter().any(|w| w == words), "{words}: {mends}");
    }
    let all: Vec<String> = traced.iter().flat_map(|m| ways(m)).collect();
    assert_eq!(all.iter().collect::<std::collections::BTreeSet<_>>().len(), all.len(), "each once: {mends}");
}

/// A row is missing, and the check of the trace says so of that very pin: it is the first thing to look at.
#[test]
fn a_missing_row_that_a_finding_names_is_the_first_mend_of_the_trace() {
    let card = relay_card(None);
    let mends = mends_of::<Relay>(&card);
    let first = mends.found.iter().find(|m| m.place == Place::Trace).unwrap_or_else(|| panic!("{mends}"));
    assert_eq!(first.words, "U1 pin 2, which has no row, is on the net `call_b`", "{mends}");
}

/// A misspelt net: the check of the trace names it, so the mend of the trace stands before those of the source.
#[test]
fn a_misspelt_net_that_a_finding_names_is_the_first_mend() {
    let mends = mends_of::<Relay>(&relay_card(Some("cal_b")));
    let [named, ..] = mends.by_place();
    let first = mends.found.first().unwrap_or_else(|| panic!("{mends}"));
    assert!(first.place == Place::Trace && !first.findings.is_empty() && !named.is_empty(), "{mends}");
    let said = first.to_string();
    assert!(said.contains("U1 pin 2 is on the net `call_b` instead of `cal_b`"), "{mends}");
    // with the right row nothing of the trace speaks for another
    let wrong_source = mends_of::<AndRelay>(&relay_card(Some("call_b")));
    assert!(
        wrong_source.by_place()[0].is_empty() && wrong_source.found[0].place == Place::Replacement,
        "{wrong_source}"
    );
}

/// The relay with its output the wrong way round.
#[derive(Circuit)]
struct AndRelay {
    #[contact(1, 2)]
    call: [Input<Data>; 2],
    #[contact(3)]
    spare: Input<Data>,
    #[contact(4)]
    held: Output<Data>,
}

impl Wiring for AndRelay {
    fn wire(&self) -> AndRelayWiring {
        let both = self.call[0].level().is_high() & self.call[1].level().is_high();
        AndRelayWiring { held: follow(high_while(both)) }
    }
}

/// A ringing counter of a telephone exchange: it counts while one of two lines rings alone and nobody holds it.
#[derive(Circuit)]
#[contacts(clk: 1, ring: 2..=3, hold: 4, n: 5..=8)]
struct Ringing {
    clk: Input<Clock>,
    ring: [Input<Data>; 2],
    hold: Input<ActiveHigh>,
    n: [Output<Data>; 4],
    /// `|` where `^` belongs.
    #[parameter]
    either: bool,
    /// The `!` before the hold was forgotten.
    #[parameter]
    holds: bool,
}

impl Wiring for Ringing {
    fn wire(&self) -> RingingWiring {
        let [a, b] = self.ring.map(|line| line.level().is_high());
        let alone = if self.either { a | b } else { a ^ b };
        let free = if self.holds { self.hold.asserted() } else { !self.hold.asserted() };
        let count = count_up(self.n).enabled_while(alone).enabled_while(free).next();
        RingingWiring { n: each(|i| on(self.clk.rises()).load(count[i])) }
    }
}

fn ringing_card() -> Board {
    let package = |reference: &str, part: &str, nets: &str| -> String {
        let rows = nets.split_whitespace().enumerate();
        rows.map(|(i, net)| format!("{reference},{part},{},{net}\n", i + 1)).collect()
    };
    let trace = [
        "ref,part,pin,net\n".to_owned(),
        package("J1", "contacts", "clk ring_0 ring_1 hold n0 n1 n2 n3 GND VCC"),
        package("U1", "74LS86", "ring_0 ring_1 alone hold VCC free GND open GND GND open GND GND VCC"),
        package("U2", "74LS163", "VCC clk GND GND GND GND alone GND VCC free n3 n2 n1 n0 open VCC"),
    ];
    Board::from_csv("ringing.csv", trace.concat(), gluewright_parts::ttl()).expect("a sound trace")
}

#[test]
fn another_operator_and_a_forgotten_inversion_before_a_counter_are_named_first() {
    let card = ringing_card();
    let ask = |either, holds| prove::<Ringing>().with(RingingParameters { either, holds }).against(&card).run();
    ask(false, false).expect("right as it is meant");
    for (either, holds, words) in [
        (true, false, "*exclusive or* instead of *or* stands between"),
        (false, true, "`n[…]` loads with `hold` inverted"),
    ] {
        let Err(Failure::Refuted(r)) = ask(either, holds) else { panic!("refuted") };
        let mends = r.mend_with_trace(&card, Duration::from_secs(120));
        let first = mends.found.first().unwrap_or_else(|| panic!("{mends}"));
        assert!(first.to_string().contains(words), "{mends}");
    }
}
