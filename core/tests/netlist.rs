//! Our Verilog read back, and what is said of a file that isn't as it was written.
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests fail as tests do")]
use gluewright::circuit::Label;
use gluewright::netlist::{NetlistProblem, read};

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
