//! Captures of a small card, explained and not, and files that are none.
use std::time::Duration;

use proptest::prelude::*;

use super::*;
use gluewright_kernel::circuit::{By, Contact, Direction, Driver, Element, Expr, Kind, Origin, Polarity, Stage, Start};

/// A lamp of a loom's stop motion: a register that clock 1 loads from 2, shown on 3.
fn lamp() -> Circuit {
    let mut c = Circuit::new("lamp");
    let mut nets = Vec::new();
    for (label, name, direction) in
        [(1u16, "clock", Direction::Input), (2, "stop", Direction::Input), (3, "lamp", Direction::Output)]
    {
        let net = c.add_net(name, Origin::Nowhere);
        let (name, polarity, origin) = (name.to_owned(), Polarity::Data, Origin::Nowhere);
        c.add_contact(Contact { label: label.into(), name, net, polarity, direction, origin });
        nets.push(net);
    }
    let (clock, data) = (c.net(nets[0]), c.net(nets[1]));
    let e = c.add_element(Element {
        name: "held".to_owned(),
        kind: Kind::Register { clock, data },
        clear: Expr::LOW,
        unknown_load: Expr::LOW,
        preset: Expr::LOW,
        start: Start::Any,
        origin: Origin::Nowhere,
    });
    let level = c.q(e);
    c.drive(
        nets[2],
        Driver {
            enable: Expr::HIGH,
            level,
            stage: Stage::PushPull,
            by: By::Pin { package: "U1".into(), pin: 5.into() },
            origin: Origin::Nowhere,
        },
    );
    c
}

fn observe(file: &str, text: &str) -> Result<Observed, CaptureError> {
    let c = lamp();
    read(file, text.as_bytes(), &Channels::by_name(), [&c, &c], Duration::from_nanos(20), |_| ())
}

fn check(text: &str) -> Finding {
    observe("lamp.csv", text).and_then(|o| o.original(|_| ())).unwrap_or_else(|e| panic!("{e}"))
}

const HEAD: &str = "time (ns),clock,stop,lamp\n";

#[test]
fn any_start_will_do_but_only_one_at_a_time() {
    let good = format!("{HEAD}0,0,1,0\n100,1,1,0\n112,1,1,1\n200,0,1,1\n300,0,0,1\n400,1,0,1\n415,1,0,0\n");
    assert!(matches!(check(&good), Finding::Explained { .. }), "{}", check(&good));
    // the lamp goes out by itself: it held high, so it can't have held low
    let bad = format!("{HEAD}0,0,1,1\n100,0,1,0\n");
    let Finding::Unexplained { nanoseconds, disagreements, .. } = check(&bad) else { panic!("explained") };
    assert!((nanoseconds - 100.0).abs() < 1e-9);
    assert_eq!(disagreements[0].label, 3.into());
}

#[test]
fn skew_is_no_fault_but_a_late_output_is() {
    // data and clock in one sample: either may have been first
    for lamp in [0, 1] {
        let both = format!("{HEAD}0,0,0,0\n100,1,1,0\n110,1,1,{lamp}\n500,1,1,{lamp}\n");
        assert!(matches!(check(&both), Finding::Explained { .. }), "{}", check(&both));
    }
    // far enough apart, only one order is left
    let before = format!("{HEAD}0,0,0,0\n100,0,1,0\n200,1,1,0\n500,1,1,0\n");
    assert!(matches!(check(&before), Finding::Unexplained { .. }));
    let late = format!("{HEAD}0,0,1,0\n100,1,1,0\n190,1,1,1\n");
    assert!(matches!(check(&late), Finding::Unexplained { .. }), "90 ns are more than the skew");
    // an output that seems to move before its input does
    let early = format!("{HEAD}0,0,1,0\n95,0,1,1\n100,1,1,1\n200,1,1,1\n");
    assert!(matches!(check(&early), Finding::Explained { .. }), "{}", check(&early));
}

#[test]
fn a_stuck_pin_is_found_and_explains_all_of_it() {
    let mut text = HEAD.to_owned();
    for k in 0..40 {
        text += &format!("{},0,{},1\n{},1,{},1\n", k * 200, k % 2, k * 200 + 100, k % 2);
    }
    let observed = observe("lamp.csv", &text).expect("it reads");
    assert!(matches!(observed.original(|_| ()), Ok(Finding::Unexplained { .. })));
    let faults = observed.faults(None, Duration::from_secs(60));
    let words: Vec<_> = faults.found.iter().map(|f| f.words.as_str()).collect();
    assert!(words.contains(&"U1 pin 5 is stuck high"), "{faults}");
    assert!(!words.contains(&"U1 pin 5 is stuck low"), "{faults}");
}

#[test]
fn dumps_and_tables_say_the_same() {
    let dump = "$timescale 1 ns $end $scope module top $end $var wire 1 ! clock $end $var wire 1 \" stop $end \
                $scope module card $end $var reg 1 # lamp $end $upscope $end $upscope $end $enddefinitions $end\n\
                #0 $dumpvars 0! 1\" x# $end\n#100 1!\n#112 1#\n#200 0! 0\"\n#400 1!\n#415 0#";
    let finding = observe("lamp.vcd", dump).and_then(|o| o.original(|_| ()));
    assert!(matches!(finding, Ok(Finding::Explained { .. })), "{finding:?}");
    let wrong = dump.replace("#415 0#", "#415 0# #500 1#");
    let finding = observe("lamp.vcd", &wrong).and_then(|o| o.original(|_| ()));
    assert!(matches!(finding, Ok(Finding::Unexplained { nanoseconds: 500.0, .. })), "{finding:?}");
}

#[test]
fn bits_of_vectors_have_names_and_short_values_are_filled() {
    let dump = "$var wire 3 ! bus [2:0] $end $enddefinitions $end #0 b1 ! #5 bx0 ! #9 b110 !";
    let mut c = Circuit::new("bus");
    for (k, name) in ["bus[2]", "bus[1]", "bus[0]"].iter().enumerate() {
        let net = c.add_net(*name, Origin::Nowhere);
        let (polarity, direction, origin) = (Polarity::Data, Direction::Input, Origin::Nowhere);
        let label = Label::from(k as u16 + 1);
        c.add_contact(Contact { label, name: (*name).to_owned(), net, polarity, direction, origin });
    }
    let o = read("bus.vcd", dump.as_bytes(), &Channels::by_name(), [&c, &c], SKEW, |_| ()).expect("it reads");
    let told: Vec<_> = o.capture.changes.iter().map(|c| (c.time / 1000, c.wire, c.to)).collect();
    use Sample::{High, Low, Unknown};
    assert_eq!(
        told,
        [
            (0, 0, Low),
            (0, 1, Low),
            (0, 2, High),
            (5, 0, Unknown),
            (5, 1, Unknown),
            (5, 2, Low),
            (9, 0, High),
            (9, 1, High)
        ]
    );
}

#[test]
fn mistakes_name_their_line_and_their_mend() {
    let wrong = |file: &str, text: &str| observe(file, text).expect_err("wrong");
    for (file, text, kind, line) in [
        ("a.csv", "clock,stop,lamp\n", CaptureErrorKind::Format, Some(1)),
        ("a.csv", "time (s),D0,D1\n", CaptureErrorKind::Channel, None),
        ("a.csv", "time (ns),clock,stop,lamp\n0,0,0,0\n5,0,2,0\n", CaptureErrorKind::Format, Some(3)),
        ("a.csv", "time (ns),clock,stop,lamp\n0,0,0,0\n5,0\n", CaptureErrorKind::Format, Some(3)),
        ("a.csv", "time (ns),clock,stop,lamp\n9,0,0,0\n5,1,0,0\n", CaptureErrorKind::Time, Some(3)),
        ("a.csv", "time (ns),clock,stop,lamp\nnever,0,0,0\n", CaptureErrorKind::Time, Some(2)),
        ("a.vcd", "$var wire 1 ! clock $end\n$var wire", CaptureErrorKind::Format, Some(3)),
        ("a.vcd", "$var wire 1 ! clock $end $enddefinitions $end\n#5 1!\n#3 0!\n", CaptureErrorKind::Time, Some(3)),
        ("a.vcd", "$nonsense $end\n", CaptureErrorKind::Format, Some(1)),
        ("a.vcd", "$var wire 999999 ! clock $end", CaptureErrorKind::TooMuch, Some(1)),
    ] {
        let e = wrong(file, text);
        assert_eq!((e.kind, e.line), (kind, line), "{text:?}: {e}");
        assert!(!e.mend.is_empty());
    }
    let lacks = observe("a.csv", "time (ns),clock,lamp\n0,0,0\n").and_then(|o| o.original(|_| ())).expect_err("stop");
    assert!(lacks.message.contains("2 stop"), "{lacks}");
}

#[test]
fn a_list_of_channels_maps_fixes_and_refuses() {
    let c = lamp();
    let text = "time (ns),D0,D1\n0,0,0\n100,1,0\n110,1,1\n";
    let list = |rows: &str| Channels::from_csv("channels.csv", rows);
    let of = |rows: &str| {
        let channels = list(rows)?;
        let o = read("a.csv", text.as_bytes(), &channels, [&c, &c], Duration::from_nanos(20), |_| ())?;
        o.original(|_| ())
    };
    assert!(matches!(of("channel,contact\nD0,1\nD1,lamp\nhigh,2\n"), Ok(Finding::Explained { .. })));
    assert!(matches!(of("D0,1\nD1,3\nlow,stop\n"), Ok(Finding::Unexplained { .. })));
    for rows in ["D0,1\nD0,9\n", "D7,1\n", "D0\n", "D0,1,sideways\n", "D0,1\nD1,1\n"] {
        let e = of(rows).expect_err(rows);
        assert_eq!((e.kind, e.file.as_str()), (CaptureErrorKind::Channel, "channels.csv"), "{e}");
        assert!(e.line.is_some());
    }
}

#[test]
fn a_command_without_end_does_not_fill_memory() {
    struct Endless(u64);
    impl std::io::Read for Endless {
        fn read(&mut self, buf: &mut [u8]) -> std::io::Result<usize> {
            self.0 += buf.len() as u64;
            assert!(self.0 < 8 << 20, "it reads on and on");
            buf.fill(b'a');
            Ok(buf.len())
        }
    }
    let c = lamp();
    for (file, head) in [("a.vcd", "$comment "), ("a.vcd", "$scope module "), ("a.csv", "time (ns),clock\n\"")] {
        let content = std::io::BufReader::new(std::io::Read::chain(head.as_bytes(), Endless(0)));
        let e = read(file, content, &Channels::by_name(), [&c, &c], SKEW, |_| ()).expect_err("endless");
        assert!(matches!(e.kind, CaptureErrorKind::TooMuch | CaptureErrorKind::Unreadable), "{e}");
    }
}

proptest! {
    #[test]
    fn no_file_makes_it_panic(bytes in proptest::collection::vec(any::<u8>(), 0..400), table: bool) {
        let c = lamp();
        let file = if table { "a.csv" } else { "a.vcd" };
        let o = read(file, bytes.as_slice(), &Channels::by_name(), [&c, &c], SKEW, |_| ());
        let _ = o.map(|o| o.original(|_| ()));
        let _ = Channels::from_csv("c.csv", &bytes);
    }

    #[test]
    fn no_text_of_the_right_words_makes_it_panic(words in proptest::collection::vec(prop_oneof![
        Just("$var wire 1 ! clock $end"), Just("$var wire 1 \" stop $end"), Just("$var reg 2 # lamp [1:0] $end"),
        Just("$enddefinitions $end"), Just("$scope module a $end"), Just("$upscope $end"), Just("$timescale 1 fs $end"),
        Just("$timescale 4294967295 s $end"), Just("#0"), Just("#18446744073709551615"), Just("#7"), Just("0!"), Just("1!"), Just("x!"),
        Just("z\""), Just("1\""), Just("b10 #"), Just("bz #"), Just("r1.5 !"), Just("$dumpvars"), Just("$end"), Just("$comment a $end"),
    ], 0..60)) {
        let c = lamp();
        let text = words.join("\n");
        let o = read("a.vcd", text.as_bytes(), &Channels::by_name(), [&c, &c], SKEW, |_| ());
        let _ = o.map(|o| (o.original(|_| ()), o.changes()));
    }

    #[test]
    fn what_is_cut_short_is_read_or_refused(cut in 0usize..400) {
        let mut dump = "$timescale 1 ns $end\n$var wire 1 ! clock $end\n$var wire 1 \" stop $end\n$var reg 1 # lamp $end\n\
                    $enddefinitions $end\n#0 0! 1\" 0#\n".to_owned();
        for k in 1..20 {
            dump += &format!("#{} {}!\n", k * 100, k % 2);
        }
        let text = dump.get(..cut.min(dump.len())).unwrap_or_default();
        let _ = observe("a.vcd", text).map(|o| o.original(|_| ()));
    }

    /// A run of the lamp with delays below the skew is explained whatever was drawn; with its output inverted it is not.
    #[test]
    fn what_a_lamp_does_is_explained(steps in proptest::collection::vec((any::<bool>(), 1u64..20), 3..60), first: bool) {
        let (mut clock, mut stop, mut held) = (false, false, first);
        let mut text = format!("{HEAD}0,0,0,{}\n", u8::from(held));
        let (mut wrong, mut loads) = (format!("{HEAD}0,0,0,{}\n", u8::from(held)), 0);
        for (k, &(clocks, delay)) in steps.iter().enumerate() {
            let time = (k as u64 + 1) * 100;
            let before = held;
            if clocks {
                clock = !clock;
                if clock {
                    held = stop;
                    loads += 1;
                }
            } else {
                stop = !stop;
            }
            for (at, lamp) in [(time, before), (time + delay, held)] {
                let row = |lamp: bool| format!("{at},{},{},{}\n", u8::from(clock), u8::from(stop), u8::from(lamp));
                text += &row(lamp);
                wrong += &row(lamp != (loads > 0 && at > time));
            }
        }
        prop_assert!(matches!(check(&text), Finding::Explained { .. }), "{}\n{text}", check(&text));
        if loads > 0 {
            prop_assert!(matches!(check(&wrong), Finding::Unexplained { .. }), "{}", wrong);
        }
    }
}

#[test]
fn what_was_not_captured_is_said_and_never_counts_as_explained() {
    let slip = observe("lamp.csv", "time (ns),clock,stop,lmp\n0,0,1,0\n100,1,1,0\n").expect("it reads");
    let shows = slip.shows();
    assert_eq!(shows.not_seen, [(3.into(), "lamp".to_owned())]);
    assert_eq!(shows.unused, [("lmp".to_owned(), Some("lamp".to_owned()))]);
    let text = shows.to_string();
    assert!(text.contains("`lmp` is on no contact, and was not looked at; is it `lamp`?"), "{text}");
    let refused = slip.original(|_| ()).expect_err("nothing to compare");
    assert!(refused.to_string().contains("capture some of 3 lamp"), "{refused}");
    let good = observe("lamp.csv", &format!("{HEAD}0,0,1,0\n100,1,1,0\n112,1,1,1\n")).expect("it reads");
    assert_eq!(good.shows().to_string(), "Compared: contacts 3 lamp.\n");
}

/// What never moved is said: a data line that is open passes such a capture.
#[test]
fn explained_does_not_comfort_where_nothing_moved() {
    let still = observe("lamp.csv", &format!("{HEAD}0,0,1,1\n100,1,1,1\n200,0,1,1\n300,1,1,1\n")).expect("it reads");
    let (finding, exercise) = still.original_exercised(|_| ()).expect("it can be told");
    assert!(matches!(finding, Finding::Explained { .. }));
    assert_eq!(exercise.still_inputs, [(2.into(), "stop".to_owned(), Sample::High)]);
    assert_eq!(exercise.still_outputs, [(3.into(), "lamp".to_owned(), Sample::High)]);
    let text = exercise.to_string();
    assert!(text.contains("The board never moved: contacts 2 stop (high)."), "{text}");
    let moved = format!("{HEAD}0,0,1,0\n100,1,1,0\n112,1,1,1\n200,0,1,1\n300,0,0,1\n400,1,0,1\n415,1,0,0\n");
    let (_, exercise) = observe("lamp.csv", &moved).and_then(|o| o.original_exercised(|_| ())).expect("told");
    assert!(exercise.is_whole() && exercise.all_captured && exercise.to_string().is_empty(), "{exercise:?}");
}

/// The lamp behind a three-state driver that contact 4 turns on.
fn switched() -> Circuit {
    let mut c = lamp();
    let net = c.add_net("show", Origin::Nowhere);
    let (name, polarity, origin) = ("show".to_owned(), Polarity::Data, Origin::Nowhere);
    c.add_contact(Contact { label: 4u16.into(), name, net, polarity, direction: Direction::Input, origin });
    let (show, lamp) = (c.net(net), c.contacts().iter().find(|c| c.name == "lamp").expect("there").net);
    c.net_mut(lamp).expect("there").drivers[0].enable = show;
    c
}

#[test]
fn a_contact_that_floats_is_not_listed_as_compared() {
    let c = switched();
    let text = "time (ns),clock,stop,lamp,show\n0,0,1,1,0\n100,1,1,1,0\n200,0,0,1,0\n300,1,0,1,0\n";
    let of = |channels: &Channels| {
        let o = read("a.csv", text.as_bytes(), channels, [&c, &c], Duration::from_nanos(20), |_| ()).expect("it reads");
        let (_, exercise) = o.original_exercised(|_| ()).expect("it can be told");
        (o.shows().but(&exercise), exercise)
    };
    let (shows, exercise) = of(&Channels::by_name());
    assert!(shows.compared.is_empty(), "{shows}");
    assert_eq!(exercise.never_compared, [(3.into(), "lamp".to_owned())]);
    assert!(exercise.to_string().contains("a third column `rest`"), "{exercise}");
    // where it is said at which level it rests, it is compared
    let rows = "clock,clock\nstop,stop\nlamp,lamp,high\nshow,show\n";
    let (shows, exercise) = of(&Channels::from_csv("channels.csv", rows).expect("a list"));
    assert!(exercise.never_compared.is_empty() && shows.compared.len() == 1, "{exercise:?}");
}

#[test]
fn a_channel_with_a_path_is_one_channel() {
    let dump = "$timescale 1 ns $end $scope module card $end $var wire 1 ! clock $end $var wire 1 \" stop $end \
                $var reg 1 # lamp $end $var wire 1 $ spare $end $upscope $end $enddefinitions $end\n#0 0! 1\" 0# 0$ #100 1! #112 1#";
    let observed = observe("lamp.vcd", dump).expect("it reads");
    let unused: Vec<String> = observed.shows().unused.into_iter().map(|(channel, _)| channel).collect();
    assert_eq!(unused, ["spare"]);
}

#[test]
fn a_skew_that_is_too_small_is_hinted_at() {
    // the lamp follows 70 ns after the clock: late by a skew of 20, and no fault
    let late = format!("{HEAD}0,0,1,0\n1000,1,1,0\n1070,1,1,1\n2000,0,0,1\n3000,1,0,1\n3070,1,0,0\n");
    let observed = observe("lamp.csv", &late).expect("it reads");
    assert!(matches!(observed.original(|_| ()), Ok(Finding::Unexplained { .. })));
    assert_eq!(observed.explained_with(), Some(Duration::from_nanos(80)));
    let wrong = format!("{HEAD}0,0,1,0\n1000,1,1,0\n1500,0,1,0\n9000,1,1,0\n");
    assert_eq!(observe("lamp.csv", &wrong).expect("it reads").explained_with(), None);
}

/// Nothing else drives the lamp: open, it reads high, and so it does not explain a lamp that blinks wrongly.
#[test]
fn an_open_contact_is_no_wildcard() {
    let mut text = HEAD.to_owned();
    for k in 0..40u32 {
        let lamp = u32::from(k % 3 == 0);
        text += &format!("{},0,{},{lamp}\n{},1,{},{lamp}\n", k * 200, k % 2, k * 200 + 100, k % 2);
    }
    let faults = observe("lamp.csv", &text).expect("it reads").faults(None, Duration::from_secs(60));
    let words: Vec<_> = faults.found.iter().map(|f| f.words.as_str()).collect();
    assert!(
        !words.iter().any(|w| w.contains("never drives") || w.contains("open") || w.contains("floats")),
        "{faults}"
    );
}
