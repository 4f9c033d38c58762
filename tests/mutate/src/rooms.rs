//! The rooms whose code is changed, and the tests that are theirs.

/// A program of tests.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Program {
    Kernel,
    Devices,
    Core,
    Tests,
}

impl Program {
    pub const ALL: [Program; 4] = [Program::Kernel, Program::Devices, Program::Core, Program::Tests];

    /// The package, its folder, and whether the program is the library's own tests.
    pub fn package(self) -> (&'static str, &'static str, bool) {
        match self {
            Program::Kernel => ("gluewright-kernel", "core/kernel", true),
            Program::Devices => ("gluewright-devices", "core/devices", true),
            Program::Core => ("gluewright", "core", false),
            Program::Tests => ("gluewright-tests", "tests", false),
        }
    }
}

pub struct Room {
    pub name: &'static str,
    /// Files, and folders with all that is in them.
    pub sources: &'static [&'static str],
    /// Its own tests: those whose names begin like this.
    pub tests: &'static [(Program, &'static str)],
    /// What is asked where these see nothing.
    pub elsewhere: &'static [(Program, &'static str)],
    /// How many of its changes are drawn, if not all are tried.
    pub drawn: Option<usize>,
}

/// Tests of what the prover says, by others and of whole cards.
const OF_VERDICTS: &[(Program, &str)] = &[
    (Program::Kernel, "prove::tests::"),
    (Program::Kernel, "explain::"),
    (Program::Tests, "apart::"),
    (Program::Tests, "at_rest::"),
    (Program::Tests, "liar::"),
    (Program::Tests, "model_checker::"),
    (Program::Tests, "open_successors::"),
    (Program::Tests, "power_up::"),
    (Program::Tests, "second_opinion::"),
    (Program::Tests, "semantics::"),
    (Program::Tests, "time_findings::"),
    (Program::Tests, "typical_delays::"),
    (Program::Tests, "verdicts::"),
];

pub const ROOMS: [Room; 6] = [
    Room {
        name: "machine",
        sources: &["core/kernel/src/machine"],
        // the simulator is the machine on words; `semantics` and `machine_rules` are about nothing else
        tests: &[
            (Program::Kernel, "machine::"),
            (Program::Kernel, "simulate::"),
            (Program::Tests, "semantics::"),
            (Program::Tests, "machine_rules::"),
        ],
        elsewhere: OF_VERDICTS,
        drawn: None,
    },
    Room {
        name: "terms",
        sources: &["core/kernel/src/terms"],
        tests: &[(Program::Kernel, "terms::")],
        elsewhere: &[(Program::Kernel, "")],
        drawn: None,
    },
    Room {
        name: "solver",
        sources: &["core/kernel/src/solver"],
        tests: &[(Program::Kernel, "solver::")],
        elsewhere: &[(Program::Kernel, "")],
        drawn: None,
    },
    Room {
        name: "prove",
        sources: &["core/kernel/src/prove"],
        tests: &[(Program::Kernel, "prove::")],
        elsewhere: OF_VERDICTS,
        drawn: Some(240),
    },
    Room {
        name: "device reading",
        sources: &[
            "core/devices/src/device/blocks.rs",
            "core/devices/src/device/decode.rs",
            "core/devices/src/device/lift.rs",
            "core/devices/src/device/meaning.rs",
            "core/devices/src/device/normalise.rs",
            "core/devices/src/device/read.rs",
            "core/devices/src/fusefile/field.rs",
            "core/devices/src/fusefile/frame.rs",
            "core/devices/src/fusefile/fuses.rs",
            "core/devices/src/fusefile/read.rs",
            "core/devices/src/seat.rs",
        ],
        tests: &[
            (Program::Core, "device::"),
            (Program::Core, "fusefile::"),
            (Program::Core, "seat::"),
            (Program::Tests, "fuse_files::"),
        ],
        elsewhere: &[(Program::Devices, ""), (Program::Core, "")],
        drawn: Some(80),
    },
    Room {
        name: "netlist reading",
        sources: &["core/devices/src/netlist/read"],
        tests: &[(Program::Core, "netlist::"), (Program::Tests, "outside_simulators::")],
        elsewhere: &[(Program::Devices, ""), (Program::Core, "")],
        drawn: Some(80),
    },
];
