//! The simulators from outside: whether they are there, and how they are run.
use std::fs;
use std::io::Write;
use std::path::Path;
use std::process::Command;
use std::sync::OnceLock;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Language {
    Verilog,
    Vhdl,
}

/// Whether the simulator of a language is there. A check without it fails where `CI` is set, and elsewhere says loudly
/// that it was left out.
pub fn tool(language: Language) -> bool {
    let (program, package) = match language {
        Language::Verilog => ("iverilog", "iverilog"),
        Language::Vhdl => ("ghdl", "ghdl"),
    };
    let there = Command::new(program).arg(if program == "ghdl" { "--version" } else { "-V" }).output().is_ok();
    if !there {
        assert!(std::env::var_os("CI").is_none(), "{program} is missing: sudo apt-get install -y {package}");
        static SAID: [OnceLock<()>; 2] = [OnceLock::new(), OnceLock::new()];
        let said = &SAID[usize::from(language == Language::Vhdl)];
        if said.set(()).is_err() {
            return there;
        }
        let line = format!("\nLEFT OUT: the emitted {language:?} was not run: sudo apt-get install -y {package}\n");
        // past the capture of the test harness, so that it is seen
        let _ = std::io::stderr().write_all(line.as_bytes());
    }
    there
}

/// Writes device and bench, runs them, and returns what the bench printed.
pub fn run(language: Language, device: &str, bench: &str) -> Result<String, String> {
    let room = tempfile::tempdir().expect("a folder");
    let at = |name: &str, text: &str| {
        let path = room.path().join(name);
        fs::write(&path, text).expect("written");
        path
    };
    let steps: Vec<(&str, Vec<String>)> = match language {
        Language::Verilog => {
            let (device, bench) = (at("device.v", device), at("bench.v", bench));
            let text = |p: &Path| p.display().to_string();
            vec![
                (
                    "iverilog",
                    vec!["-g2001".into(), "-Wall".into(), "-o".into(), "bench".into(), text(&device), text(&bench)],
                ),
                ("vvp", vec!["-n".into(), "bench".into()]),
            ]
        }
        Language::Vhdl => {
            at("device.vhd", device);
            at("bench.vhd", bench);
            let words = |text: &str| text.split(' ').map(str::to_owned).collect::<Vec<_>>();
            vec![
                ("ghdl", words("-a --std=93 device.vhd bench.vhd")),
                ("ghdl", words("-e --std=93 bench")),
                ("ghdl", words("-r --std=93 bench")),
            ]
        }
    };
    let mut last = String::new();
    for (program, arguments) in steps {
        let output = Command::new(program).args(&arguments).current_dir(room.path()).output().expect("it starts");
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        last = String::from_utf8_lossy(&output.stdout).into_owned();
        if !output.status.success() {
            return Err(format!("{program} refuses the file: {said}{last}"));
        }
    }
    Ok(last)
}
