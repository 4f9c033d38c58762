//! Our Verilog read back, and what is said of a file that isn't as it was written.
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests fail as tests do")]
use gluewright::circuit::{Circuit, Label};
use gluewright::netlist::{NetlistProblem, read};
use gluewright::simulate::{Shown, Simulator};

const SMALL: &str = "// small
`timescale 1 ns / 1 ps

module small (
    d,
    clk,
    q,
    bus
);
    input d; // contact 1, pin 4
    input clk; // contact A, B, pins 43 and 2
    output q; // contact 3, pin 5
    inout bus; // contact 4, pin 6

    wire clk_low;
    wire q_level_next;
    reg q_level;
    reg bus_level;

    assign clk_low = ~clk;

    assign q_level_next = ~((d & ~q_level)
        | bus);
    initial q_level = 1'b0;
    always @(posedge clk_low or posedge d)
        if (d) q_level <= #1 1'b0;
        else q_level <= #1 q_level_next;
    assign q = q_level;

    always @*
        if (d & clk) bus_level = 1'b1;
        else if (clk) bus_level = ~(q_level);
    assign bus = (clk & q_level) ? bus_level : 1'bz;
endmodule
";

#[test]
fn what_is_written_is_read() {
    let circuit = read(SMALL).unwrap();
    assert_eq!(circuit.name, "small");
    let pins: Vec<String> = circuit.contacts().iter().map(|c| format!("{} {}", c.label, c.name)).collect();
    assert_eq!(pins, ["4 d", "43 clk", "5 q", "6 bus"]);
    assert_eq!(circuit.elements().len(), 2);
    assert!(circuit.find_contact(&Label::from(6)).is_some());
}

/// The problem that a change brings, with its line.
fn after(from: &str, to: &str) -> (u32, NetlistProblem) {
    assert!(SMALL.contains(from), "{from}");
    let e = read(&SMALL.replacen(from, to, 1)).unwrap_err();
    assert!(e.to_string().starts_with(&format!("line {}: ", e.line)));
    (e.line, e.problem)
}

#[test]
fn a_module_without_ports_is_read() {
    // IEEE 1364: a port of the list may be empty (from memory)
    let circuit = read("module idle (\n\n);\nendmodule\n").unwrap();
    assert_eq!((circuit.name.as_str(), circuit.contacts().len()), ("idle", 0));
}

#[test]
fn what_is_not_as_written_is_named_with_its_line() {
    use NetlistProblem as P;
    assert_eq!(after("clk_low = ~clk", "clk_low = ~clock"), (20, P::Undeclared("clock".into())));
    assert_eq!(after("wire clk_low", "wire d"), (15, P::Twice("d".into())));
    assert_eq!(after("assign q = q_level;", "assign q = d; assign q = d;"), (28, P::DefinedTwice("q".into())));
    assert_eq!(after("    assign clk_low = ~clk;\n", ""), (15, P::Undefined("clk_low".into())));
    assert_eq!(after("; // contact 3, pin 5", ";"), (12, P::NoPlace("q".into())));
    assert_eq!(after("pin 6", "pin 43"), (13, P::PinTwice { pin: 43, port: "clk".into() }));
    assert_eq!(after("~clk;", "^clk;"), (20, P::Character('^')));
    assert!(matches!(after("posedge d)", "negedge d)"), (25, P::Expected { expected: "posedge", .. })));
    assert!(matches!(after("if (d) q_level", "if (clk) q_level"), (26, P::Expected { .. })));
    assert!(matches!(after("#1 1'b0", "1'b0"), (26, P::Expected { expected: "#1", .. })));
    assert!(matches!(after("endmodule", ""), (34, P::Expected { .. })));
    assert!(matches!(after("assign q =", "assign bus ="), (28, P::Unsuited { .. }) | (33, P::DefinedTwice(_))));
    assert!(matches!(after("= ~clk;", &format!("= {}clk;", "~".repeat(50))), (20, P::TooDeep)));
    assert_eq!(after("1'bz", "1'bx"), (33, P::Character('x')));
    assert_eq!(after("    input d; // contact 1, pin 4\n", ""), (5, P::Undeclared("d".into())));
    assert!(matches!(after("~clk;", "~clk)"), (20, P::Expected { expected: ";", .. })));
    let long = format!("~clk {};", "x".repeat(99));
    assert!(matches!(after("~clk;", &long).1, P::Expected { found, .. } if found.chars().count() == 61));
    assert!(matches!(after("1'bz", "1'b0"), (33, P::Expected { expected: "1'bz", .. })));
}

#[test]
fn no_cut_and_no_changed_byte_makes_it_panic() {
    for end in 0..SMALL.len() {
        let _ = read(&SMALL[..end]);
    }
    for at in 0..SMALL.len() {
        for with in ["(", "~", "\"", "é", ";", "1'b"] {
            let _ = read(&format!("{}{with}{}", &SMALL[..at], &SMALL[at + 1..]));
        }
    }
    let long = vec!["d"; 200_000].join(" | ");
    assert!(read(&SMALL.replacen("~clk;", &format!("{long};"), 1)).is_ok());
}

/// What the contacts of a circuit show while its inputs go through these events.
fn shows(circuit: &Circuit, shown: &[u16], events: &[&[(u16, bool)]]) -> Vec<Vec<Shown>> {
    let (mut sim, _) = Simulator::new(circuit, &[], |_, _| false).unwrap();
    let look = |sim: &Simulator| shown.iter().map(|&pin| sim.shown(&pin.into(), 0).unwrap()).collect::<Vec<_>>();
    let mut all = vec![look(&sim)];
    for event in events {
        let event: Vec<(Label, bool)> = event.iter().map(|&(pin, high)| (pin.into(), high)).collect();
        sim.event(&event).unwrap();
        all.push(look(&sim));
    }
    all
}

/// Followed by hand, line by line of the Verilog: the register loads at falls of `clk`, and `bus` is what it does not hold.
#[test]
fn what_is_read_does_what_the_text_says() {
    use Shown::{Floating, High, Low};
    let (d, clk, q, bus) = (4, 43, 5, 6);
    let events: [&[(u16, bool)]; 8] = [
        &[(clk, true)],
        &[(clk, false)],
        &[(clk, true)],
        &[(d, true)],
        &[(d, false)],
        &[(bus, true)],
        &[(clk, false)],
        &[(clk, true)],
    ];
    let expected = [
        [Low, Floating],
        [Low, Floating],
        [High, Floating],
        // it shows what the register does not hold
        [High, Low],
        // cleared, and with it the enable
        [Low, Floating],
        [Low, Floating],
        [Low, Floating],
        // the bus is high, so a low is loaded
        [Low, Floating],
        [Low, Floating],
    ];
    assert_eq!(shows(&read(SMALL).unwrap(), &[q, bus], &events), expected);
    let begins_high = SMALL.replacen("initial q_level = 1'b0", "initial q_level = 1'b1", 1);
    assert_eq!(shows(&read(&begins_high).unwrap(), &[q], &[]), [[High]]);
    let pulls_low = SMALL.replacen("? bus_level", "? 1'b0", 1);
    assert_eq!(shows(&read(&pulls_low).unwrap(), &[bus], &events[..3])[3], [Low]);
}

const HELD: &str = "module held (
    k,
    c,
    p,
    g,
    d,
    r,
    l
);
    input k; // contact 1, pin 1
    input c; // contact 2, pin 2
    input p; // contact 3, pin 3
    input g; // contact 4, pin 4
    input d; // contact 5, pin 5
    output r; // contact 6, pin 6
    output l; // contact 7, pin 7
    reg r_level;
    reg l_level;
    initial r_level = 1'b0;
    always @(posedge k or posedge c or posedge p)
        if (c) r_level <= #1 1'b0;
        else if (p) r_level <= #1 1'b1;
        else r_level <= #1 d;
    assign r = r_level;
    always @*
        if (c) l_level = 1'b0;
        else if (p) l_level = 1'b1;
        else if (g) l_level = d;
    assign l = l_level;
endmodule
";

#[test]
fn a_clear_goes_before_a_preset_and_both_before_the_rest() {
    use Shown::{High, Low};
    let circuit = read(HELD).unwrap();
    let events: [&[(u16, bool)]; 8] = [
        &[(3, true)],
        &[(2, true)],
        &[(3, false)],
        &[(2, false)],
        &[(5, true)],
        &[(4, true)],
        &[(1, true)],
        &[(2, true)],
    ];
    let expected = [
        [Low, Low],
        [High, High],
        [Low, Low],
        [Low, Low],
        [Low, Low],
        [Low, Low],
        [Low, High],
        [High, High],
        [Low, Low],
    ];
    assert_eq!(shows(&circuit, &[6, 7], &events), expected);
    // a delay needs no space behind it
    assert_eq!(shows(&read(&HELD.replacen("#1 d;", "#1(d);", 1)).unwrap(), &[6, 7], &events), expected);
    // in another order it would mean something else
    let first =
        HELD.replacen("l_level = 1'b0", "l_level = 1'b1", 1).replacen("(p) l_level = 1'b1", "(p) l_level = 1'b0", 1);
    assert!(matches!(read(&first).unwrap_err().problem, NetlistProblem::Expected { .. }));
}
