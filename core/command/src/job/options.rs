//! The options of a job's command line, with their help.
use std::path::PathBuf;

use clap::Parser;

use gluewright_report::cautions;

/// What the command line offers.
#[derive(Clone, Debug, Parser)]
#[command(
    about = "Proves the replacement against the traced card, fits it into a device, writes what the device programmer \
             and the workbench need, and proves the written fuse file again",
    after_help = after_help()
)]
pub(super) struct Options {
    /// The device to fit, by its generic type number, instead of the one that the job was written for; a wrong one is
    /// answered with those that are known
    #[arg(long, conflicts_with_all = ["survey", "capture"])]
    pub(super) device: Option<String>,
    /// The folder under which the circuit's own folder is written
    #[arg(long, default_value = "out")]
    pub(super) out: PathBuf,
    /// Print which devices of the drawer hold the circuit, with figures, and do nothing else
    #[arg(long)]
    pub(super) survey: bool,
    /// Split the circuit over as few devices as it takes: all of the type of --device, or else what --drawer holds
    #[arg(long, conflicts_with_all = ["survey", "keep"])]
    pub(super) split: bool,
    /// Give up programming the device in its circuit: the pins of its programming port carry signals like others
    #[arg(long, conflicts_with = "capture")]
    pub(super) use_port_pins: bool,
    /// Leave these packages of the original in place, and replace the rest by one device: --keep U1,U2
    #[arg(long, value_name = "PACKAGES", value_delimiter = ',', conflicts_with = "survey")]
    pub(super) keep: Vec<String>,
    /// Replace these packages of a larger board alone: --replace U11,U12; the rest stays. Where nets leave
    /// them the source's contacts are the board's, and the pins of what stays: U9-1
    #[arg(long, value_name = "PACKAGES", value_delimiter = ',')]
    pub(super) replace: Vec<String>,
    /// The file that lists the devices you have (CSV: maker,type,grade,package,count), instead of those that the
    /// job was written for; without any, every known type
    #[arg(long, value_name = "FILE", conflicts_with = "capture")]
    pub(super) drawer: Option<PathBuf>,
    /// The file that says what hangs on the contacts and how the board's signals are timed (CSV:
    /// contact,what,value,part,edge,known_from): currents, levels and times become pass or fail
    #[arg(long, value_name = "FILE", conflicts_with_all = ["survey", "readback", "capture"])]
    pub(super) host: Option<PathBuf>,
    /// Compare this file, read from the burned part, with the fuse file that was written under --out, fuse by fuse, and
    /// prove it against the card; nothing is written. With --split or --keep as the job had them; of several devices one
    /// file each, D1's first
    #[arg(long, value_name = "FILE", num_args = 1.., conflicts_with = "survey")]
    pub(super) readback: Vec<PathBuf>,
    /// Write everything into one archive as well, for another keeper of the same board: source, trace, fuse files, report, and
    /// a record of the day and of the parts. The checker proves it again
    #[arg(long, value_name = "FILE", conflicts_with_all = ["survey", "readback", "capture"])]
    pub(super) bundle: Option<PathBuf>,
    /// Put this form, bring_up.csv as it was filled in at the bench, into the bundle
    #[arg(long, value_name = "FILE", requires = "bundle")]
    pub(super) measured: Option<PathBuf>,
    /// Write fuse files without test vectors, for a device programmer that stumbles over them
    #[arg(long, conflicts_with_all = ["survey", "capture"])]
    pub(super) without_vectors: bool,
    /// The package of the device in the programmer, in whose pin order the test vectors stand, such as PLCC-28; without it
    /// the DIP
    #[arg(long, value_name = "PACKAGE", conflicts_with_all = ["without_vectors", "survey", "readback", "capture"])]
    pub(super) package: Option<String>,
    /// Make test vectors that test levels only, for a device programmer that can't tell that a pin floats
    #[arg(long, conflicts_with_all = ["without_vectors", "survey", "readback", "capture"])]
    pub(super) levels_only: bool,
    /// What the user signature of the device says, in as many characters as it has: a revision, a date, who burned it
    #[arg(long, value_name = "TEXT", conflicts_with_all = ["survey", "readback", "capture"])]
    pub(super) signature: Option<String>,
    /// Check this capture of a logic analyser (value change dump, or .csv with a head like `time (ns),clk`) instead
    #[arg(long, value_name = "FILE", conflicts_with_all = ["survey", "split", "keep", "readback", "explain"])]
    pub(super) capture: Option<PathBuf>,
    /// Which channel is on which contact: rows `channel,contact,rest`; else channels are named like contacts. `rest`, where it
    /// is known, is the level, high or low, that the board gives the contact while the card lets go of it: without it a
    /// contact is compared only while the card drives it
    #[arg(long, value_name = "FILE", requires = "capture")]
    pub(super) channels: Option<PathBuf>,
    /// How far apart in time channels may show what happens at once, in nanoseconds
    #[arg(long, value_name = "NS", requires = "capture", default_value_t = 100)]
    pub(super) skew: u32,
    /// Take as open what only typical delays of the original's parts decide: nothing is proved by them
    #[arg(long, conflicts_with = "survey")]
    pub(super) by_causality: bool,
    /// Print one JSON document instead of text, also of a failure, and nothing on standard error
    #[arg(long)]
    pub(super) json: bool,
    /// If the replacement is refuted, write a page with the waveform, the causes and where to probe into this file
    #[arg(long, value_name = "FILE", conflicts_with = "survey")]
    pub(super) explain: Option<PathBuf>,
    /// If the replacement is refuted, put so many times the usual work, and time, into the search for a change that mends
    /// it; 0 leaves the search out
    #[arg(long, value_name = "TIMES", default_value_t = 1, conflicts_with_all = ["survey", "capture", "readback"], value_parser = clap::value_parser!(u32).range(0..=1000))]
    pub(super) mend_effort: u32,
}

fn after_help() -> String {
    format!(
        "Exit status: 0 proved and written, 1 refuted, withheld or undecided, 2 wrong use, bad input or no fit.\n\n\
         Before a burned device goes into a board:\n{}",
        cautions::text("  - ")
    )
}
