//! The loop that a user feels: `cargo bench -p gluewright-tests --bench edit`.
//!
//! Copies the starter package beside an empty target folder, builds it once, then edits its source again and again and
//! waits for `cargo test` to say its verdict. Beside it stand the compiler's own check of the same edit, and the same
//! test without an edit.
use std::error::Error;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

/// Edits that are measured; the best counts.
const EDITS: usize = 5;

/// The condition of the bell as the starter has it, and forgotten.
const RIGHT: &str = "self.ringing.asserted() & !answered";
const WRONG: &str = "self.ringing.asserted() & answered";

struct Starter {
    folder: PathBuf,
    target: PathBuf,
    source: String,
}

impl Starter {
    /// The starter with its paths pointing here, in a folder of its own.
    fn copied(into: &Path) -> Result<Self, Box<dyn Error>> {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..").canonicalize()?;
        let (from, folder) = (root.join("starter"), into.join("starter"));
        fs::create_dir_all(folder.join("src"))?;
        for file in ["Cargo.lock", "src/card.csv"] {
            fs::copy(from.join(file), folder.join(file))?;
        }
        let manifest = fs::read_to_string(from.join("Cargo.toml"))?;
        let manifest = manifest.replace("../", &format!("{}/", root.display()));
        fs::write(folder.join("Cargo.toml"), manifest)?;
        let source = fs::read_to_string(from.join("src/main.rs"))?;
        assert!(source.contains(RIGHT), "the starter has the line that is edited");
        fs::write(folder.join("src/main.rs"), &source)?;
        Ok(Starter { folder, target: into.join("target"), source })
    }

    /// Saves the source with this bell condition, and something new in it.
    fn edit(&self, bell: &str, count: usize) -> Result<(), Box<dyn Error>> {
        let text =
            format!("{}\n/// Edit {count}.\npub const EDIT: usize = {count};\n", self.source.replace(RIGHT, bell));
        Ok(fs::write(self.folder.join("src/main.rs"), text)?)
    }

    /// How long cargo takes for this, whether it ended well, and what it printed.
    fn cargo(&self, what: &[&str]) -> Result<(Duration, bool, String), Box<dyn Error>> {
        let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
        let began = Instant::now();
        let mut command = Command::new(cargo);
        command.args(what).current_dir(&self.folder).env("CARGO_TARGET_DIR", &self.target);
        // this bench's own profile must not leak into the user's build
        for (name, _) in std::env::vars_os().filter(|(n, _)| n.to_string_lossy().starts_with("CARGO_PROFILE_")) {
            command.env_remove(name);
        }
        let output = command.output()?;
        let said = format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
        Ok((began.elapsed(), output.status.success(), said))
    }

    /// The best time over some edits, with what was said last.
    fn best(&self, what: &[&str], bell: &str, well: bool) -> Result<(Duration, String), Box<dyn Error>> {
        let mut best: Option<(Duration, String)> = None;
        for count in 0..EDITS {
            self.edit(bell, count)?;
            let (time, ended_well, said) = self.cargo(what)?;
            assert_eq!(ended_well, well, "{said}");
            if best.as_ref().is_none_or(|(b, _)| time < *b) {
                best = Some((time, said));
            }
        }
        best.ok_or_else(|| "no edit was measured".into())
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    // as `cargo test --benches` calls it: a cold build is too long for that
    if std::env::args().any(|a| a == "--test") {
        return Ok(());
    }
    let place = tempfile::tempdir()?;
    let starter = Starter::copied(place.path())?;
    let (cold, well, said) = starter.cargo(&["test", "--no-run"])?;
    assert!(well, "{said}");
    starter.cargo(&["check"])?;
    let (check, _) = starter.best(&["check"], RIGHT, true)?;
    let (proved, _) = starter.best(&["test"], RIGHT, true)?;
    let (again, _, _) = starter.cargo(&["test"])?;
    let (refuted, said) = starter.best(&["test"], WRONG, false)?;
    assert!(said.contains("bell"), "the refutation names the contact: {said}");
    let line = |what: &str, time: Duration| {
        let times = time.as_secs_f64() / check.as_secs_f64();
        println!("{what:<58} {:>8.2} s {times:>8.1} times", time.as_secs_f64());
    };
    println!("seconds of a user's life, best of {EDITS} edits, beside the compiler's check of the same edit\n");
    line("the first build of all, `cargo test --no-run`", cold);
    line("an edit, `cargo check`", check);
    line("an edit, `cargo test` until it is proved", proved);
    line("a wrong edit, `cargo test` until it is refuted in words", refuted);
    line("no edit, `cargo test` again", again);
    Ok(())
}
