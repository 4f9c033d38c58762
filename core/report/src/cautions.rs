//! What a person must know before a burned device meets a board: the one list, for the README, the report and `--help`.

/// One caution.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Caution {
    /// What to do or not to do, in a few words.
    pub rule: &'static str,
    /// Why, and how.
    pub why: &'static str,
}

/// All cautions, those about life first. They are the trade's common practice; where a data sheet decides, it goes first.
pub const CAUTIONS: [Caution; 13] = [
    Caution {
        rule: "Mains and high voltage in old equipment can kill.",
        why: "Capacitors hold their charge after the plug is out. That work belongs to qualified people under the local \
              code.",
    },
    Caution {
        rule: "Remove power before plugging or unplugging.",
        why: "Supplies off and discharged: never plug anything under power.",
    },
    Caution {
        rule: "Check the supply pins first.",
        why: "Measure between the empty socket's supply contacts, with the right sign, before the device goes in: a \
              swapped supply destroys device and board.",
    },
    Caution {
        rule: "Power up the first time from a current-limited supply.",
        why: "Set the limit a little above what board and device need; if it limits, switch off and look for two outputs \
              that drive one net.",
    },
    Caution {
        rule: "Beware of static.",
        why: "Work on a grounded mat with a wrist strap; carry devices in conductive foam.",
    },
    Caution {
        rule: "Keep a copy before you overwrite.",
        why: "Read every part that you mean to erase or program, and keep what it held: it may be the only one.",
    },
    Caution {
        rule: "Choose the exact maker and type in the programmer.",
        why: "One type number from two makers can need two algorithms; the wrong one can ruin the part or write it badly.",
    },
    Caution {
        rule: "Don't drive against a powered board's outputs.",
        why: "Probe with a high impedance, and put 1 kΩ in series with whatever you drive a contact with.",
    },
    Caution {
        rule: "No lines above 5 V on a logic part.",
        why: "Nor below ground: lines of relays, lamps, serial ports and long cables need the drivers that the original \
              had.",
    },
    Caution {
        rule: "An unpowered device may load the bus.",
        why: "Its protection diodes pull lines down: don't run the board with the device's supply left open.",
    },
    Caution {
        rule: "Outputs are undefined while the supply rises.",
        why: "Whatever the card commands can move then: keep motors, relays and writable memories safe until the supply \
              stands.",
    },
    Caution {
        rule: "A fast grade rings on old wiring.",
        why: "Use the slowest grade that is safe; fast edges couple into neighbours and clock registers twice.",
    },
    Caution {
        rule: "Proved is about logic.",
        why: "Settled logic with one event at a time: no proof speaks about noise, damaged parts, metastability or a wrong \
              trace.",
    },
];

/// All cautions as text, one to a line, each after `mark`.
pub fn text(mark: &str) -> String {
    CAUTIONS.iter().map(|c| format!("{mark}{} {}\n", c.rule, c.why)).collect()
}
