//! The bench on cards small enough to follow by hand, and what it says when it can't.
use super::*;
use crate::prelude::*;

/// A two-way port with a flag: reads put the byte on the bus, writes take it in.
#[derive(Circuit)]
struct Port {
    #[contact(1)]
    clock: Input<Clock>,
    #[contact(2)]
    read: Input<ActiveLow>,
    #[contact("A3")]
    write: Input<ActiveHigh>,
    #[contact(4..=7)]
    bus: [InOut<Data>; 4],
    #[contact(8)]
    full: Output<ActiveLow, OpenCollector>,
    kept: [Buried<Register>; 4],
    flag: Buried<Register, ActiveHigh>,
}

impl Wiring for Port {
    fn wire(&self) -> PortWiring {
        let clock = self.clock.rises();
        let (read, write) = (self.read.asserted(), self.write.asserted());
        PortWiring {
            kept: each(|i| on(clock).load_if(write, self.bus[i].level())),
            flag: on(clock).load(write | self.flag.asserted()).starts_released(),
            bus: each(|i| follow(self.kept[i].q()).drive_while(read)),
            full: assert_while(self.flag.asserted()),
        }
    }
}

fn port() -> Bench<Port> {
    Bench::of().expect("a circuit")
}

#[test]
fn a_run_by_names_labels_numbers_and_fields() -> Result<(), BenchError> {
    let mut bench = port();
    let read = bench.at(|card| card.read)?;
    bench.set("clock", LOW)?.release(&read)?.assert("A3")?.set_number("bus", 0b1010)?;
    assert_eq!(bench.see("full")?, Shown::Floating);
    bench.pulse(1)?.release("write")?;
    assert_eq!(bench.see("full")?, Shown::Low);
    assert!(bench.is_asserted("full")?);
    assert_eq!([0, 1, 2, 3].map(|i| bench.holds(format!("kept[{i}]")).ok()), [LOW, HIGH, LOW, HIGH].map(Some));
    bench.set_number("bus", 0)?.assert(&read)?;
    assert_eq!(bench.see_number("bus")?, Some(0b1010));
    assert_eq!(bench.see(bench.at(|card| card.bus[3])?)?, Shown::High);
    bench.release(&read)?;
    assert_eq!(bench.see_number("bus")?, Some(0), "the bench holds the bus again");
    assert_eq!(bench.remarks(), [""; 0]);
    Ok(())
}

#[test]
fn what_cannot_be_done_is_said() {
    let said = |r: Result<(), BenchError>| r.expect_err("it can't be done").to_string();
    let unit = |r: Result<&mut Bench<Port>, BenchError>| r.map(|_| ());
    let mut bench = port();
    assert_eq!(
        said(bench.see("full").map(|_| ())),
        "nobody drives `clock`, `read`, `write`, `bus[0]`, `bus[1]`, `bus[2]` and 1 more: give each input its level with \
         set(…), or all that are left with release_the_rest()"
    );
    bench.release_the_rest();
    assert_eq!(
        said(unit(bench.set("full", LOW))),
        "`full` is an output: the circuit drives it, and the bench only looks at it"
    );
    assert_eq!(said(unit(bench.set("raed", LOW))), "`port` has nothing that is called `raed`: is it `read`?");
    assert_eq!(
        said(unit(bench.set("bus", LOW))),
        "`bus` is an array: take one of it, `bus[0]`, or all of it as a number: set_number and see_number, in a table a number"
    );
    assert_eq!(said(unit(bench.set_number("bus", 16))), "16 does not fit on the 4 contacts of `bus`");
    assert_eq!(
        said(unit(bench.assert("clock"))),
        "neither level of `clock` is asserted: put LOW or HIGH on it with set(…), and look with see(…)"
    );
    assert_eq!(said(unit(bench.starts("flag", HIGH))), "the source of `flag` says how it starts");
    assert_eq!(said(bench.holds("kept").map(|_| ())), "`port` has nothing that is called `kept`");
    let outside = std::hint::black_box(4);
    assert!(matches!(bench.at(|card| card.bus[outside]), Err(BenchError::NoField)));
    bench.starts("kept[0]", HIGH).expect("unknown").assert("read").expect("an input");
    assert_eq!(bench.see_number("bus").ok(), Some(Some(1)));
    assert_eq!(
        said(unit(bench.set("bus[0]", LOW))),
        "the circuit drives `bus[0]` at this moment: first bring it to let go of the contact"
    );
    assert_eq!(
        said(unit(bench.starts_drawn(7))),
        "power is on: say the start before anything else is done, on a new bench"
    );
}

#[test]
fn a_table_is_run_row_by_row() {
    let run = |table: &str| port().table(table).map(|_| ()).map_err(|e| e.to_string());
    let good = "
        clock  read      write    bus    | full      bus     flag
        low    released  released 0b1100 | floating  12      low
        pulse  -         asserted -      | low       -       high   # taken in
        -      -         released 3      | -         0x3     -
        -      asserted  -        -      | asserted  12      -
    ";
    assert_eq!(run(good), Ok(()));
    let wrong = good.replace("| asserted  12", "| asserted  3");
    assert_eq!(run(&wrong), Err("line 6 of the table: `bus` is 12, not 3".into()));
    let wrong = good.replace("high   # taken in", "low");
    assert_eq!(run(&wrong), Err("line 4 of the table: `flag` is high, not low".into()));
    assert_eq!(
        run("clock | full\n hihg | low"),
        Err("line 2 of the table: `hihg` is not known here: write low, high, asserted, released, pulse, a number or -"
            .into())
    );
    assert_eq!(
        run("clock | full\n low low | low"),
        Err("line 2 of the table: 2 words stand on this side of the bar, and 1 names in the first line".into())
    );
    assert_eq!(
        run("clock full"),
        Err("line 1 of the table: a bar must stand between what is set and what is looked at: `reset clock | bell`"
            .into())
    );
}

/// Nothing but a gate that feeds itself the wrong way round while the key is down.
#[derive(Circuit)]
struct Ring {
    #[contact(1)]
    key: Input<ActiveHigh>,
    #[contact(2)]
    out: Output<Data>,
}

impl Wiring for Ring {
    fn wire(&self) -> RingWiring {
        RingWiring { out: follow(high_while(self.key.asserted() & self.out.level().is_low())) }
    }
}

#[test]
fn a_circuit_that_never_rests_is_said() {
    let mut bench = Bench::of::<Ring>().expect("a circuit");
    assert_eq!(bench.release("key").and_then(|b| b.see("out")).ok(), Some(Shown::Low));
    let said = bench.assert("key").expect_err("it oscillates").to_string();
    assert_eq!(said, "the circuit does not come to rest in step 1: something in it oscillates");
}

#[test]
fn a_start_is_drawn_the_same_every_time() -> Result<(), BenchError> {
    let start = |seed: u64| -> Result<Option<u64>, BenchError> {
        port().starts_drawn(seed)?.release_the_rest().assert("read")?.see_number("bus")
    };
    let all = (0..16).map(start).collect::<Result<Vec<_>, _>>()?;
    assert_eq!(all, (0..16).map(start).collect::<Result<Vec<_>, _>>()?);
    assert!(all.iter().any(|n| *n != all[0]), "{all:?}");
    Ok(())
}

/// The dump is read back by the reader of the crate that wrote it, and says what was seen.
#[test]
fn the_dump_says_what_was_seen() -> Result<(), Box<dyn std::error::Error>> {
    let mut bench = port();
    bench.release_the_rest().assert("write")?.set_number("bus", 5)?.pulse("clock")?.assert("read")?;
    let mut dump = Vec::new();
    bench.write_vcd(&mut dump)?;
    let mut reader = vcd::Parser::new(dump.as_slice());
    let header = reader.parse_header()?;
    let full = header.find_var(&["port", "full"]).ok_or("no `full`")?.code;
    let held = header.find_var(&["port", "flag_(held)"]).ok_or("no `flag`")?.code;
    let (mut time, mut changes) = (0, Vec::new());
    for command in reader {
        match command? {
            vcd::Command::Timestamp(t) => time = t,
            vcd::Command::ChangeScalar(id, value) if id == full => changes.push(("full", time / 1000, value)),
            vcd::Command::ChangeScalar(id, value) if id == held => changes.push(("flag", time / 1000, value)),
            _ => {}
        }
    }
    let [z, low, high] = [vcd::Value::Z, vcd::Value::V0, vcd::Value::V1];
    changes.sort_by_key(|(name, time, _)| (*name, *time));
    let seen = changes.iter().map(|(name, _, value)| (*name, *value)).collect::<Vec<_>>();
    assert_eq!(seen, [("flag", low), ("flag", high), ("full", z), ("full", low)]);
    Ok(())
}

#[test]
fn a_run_is_drawn_as_refutations_are() -> Result<(), BenchError> {
    let mut bench = port();
    bench.set("clock", LOW)?.release_the_rest().assert("write")?.pulse("clock")?.assert("read")?;
    let wave = bench.waveform();
    assert!(wave.columns.iter().any(|c| c.step == 4), "{:?}", wave.columns);
    let text = wave.text();
    let line = |name: &str| text.lines().find(|l| l.trim_start().starts_with(name)).unwrap_or_default().to_owned();
    assert!(line("1 clock").contains('╱') && line("1 clock").contains("board"), "{text}");
    assert!(line("8 full").contains('╌') && line("8 full").contains("card"), "{text}");
    let svg = wave.svg("a port");
    assert!(svg.starts_with("<svg") && svg.contains("<title>a port</title>") && svg.contains(">clock</text>"), "{svg}");
    Ok(())
}
