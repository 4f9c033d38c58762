//! A copy of the workspace with all chosen changes in it, built once.
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::Value;

use crate::points::Point;
use crate::rooms::Program;
use crate::weave::{Woven, weave};

/// A change that is tried.
#[derive(Clone, Debug)]
pub struct Change {
    pub room: usize,
    pub file: String,
    pub point: Point,
}

impl Change {
    /// The same as long as what stands before it in the file is.
    pub fn key(&self) -> String {
        format!("{}:{}:{} {}", self.file, self.point.line, self.point.column, self.point.what)
    }
}

/// Asked by every change; at the first time that it is asked about one, says so in a file if one is named.
const SWITCH: &str = r#"
pub mod mutated {
    use std::io::Write;
    use std::sync::atomic::{AtomicBool, Ordering};
    use std::sync::{Mutex, OnceLock};
    static SEEN: [AtomicBool; COUNT] = [const { AtomicBool::new(false) }; COUNT];
    static CHOSEN: OnceLock<(usize, Option<Mutex<std::fs::File>>)> = OnceLock::new();
    #[inline]
    pub fn on(number: usize) -> bool {
        let (chosen, reached) = CHOSEN.get_or_init(|| {
            let chosen = std::env::var("GLUEWRIGHT_MUTANT").ok().and_then(|n| n.parse().ok()).unwrap_or(usize::MAX);
            let reached = std::env::var_os("GLUEWRIGHT_REACHED").map(|path| Mutex::new(std::fs::File::create(path).unwrap()));
            (chosen, reached)
        });
        if let Some(file) = reached && !SEEN[number].swap(true, Ordering::Relaxed) {
            file.lock().unwrap().write_all(format!("{number}\n").as_bytes()).unwrap();
        }
        *chosen == number
    }
}
"#;

pub struct Copy {
    /// The workspace.
    pub root: PathBuf,
    /// Where copy and build products are.
    pub target: PathBuf,
    /// By their numbers; those that are no program are in `broken`.
    pub changes: Vec<Change>,
    pub broken: BTreeSet<usize>,
}

impl Copy {
    pub fn source(&self) -> PathBuf {
        self.target.join("source")
    }

    /// Writes the copy until it compiles, without the changes that don't, and builds the programs of tests.
    pub fn build(&mut self) -> BTreeMap<Program, PathBuf> {
        loop {
            let woven = self.write();
            let said = self.cargo(&["check", "-p", "gluewright-kernel", "-p", "gluewright-devices"]);
            let broken: BTreeSet<usize> = said.iter().flat_map(|message| about(message, &woven)).collect();
            let errors = said.iter().filter(|m| m["message"]["level"] == "error").count();
            eprintln!("{errors} errors about {} changes", broken.len());
            if errors == 0 {
                break;
            }
            assert!(!broken.is_empty(), "the copy does not compile, and no change is why: {said:#?}");
            self.broken.extend(broken);
        }
        let mut arguments = vec!["test", "--no-run", "--lib", "--test", "checks"];
        Program::ALL.iter().for_each(|program| arguments.extend(["-p", program.package().0]));
        let built = self.cargo(&arguments);
        let mut found = BTreeMap::new();
        for program in Program::ALL {
            let (_, folder, own) = program.package();
            let folder = self.source().join(folder);
            let made = built.iter().find(|m| {
                m["reason"] == "compiler-artifact"
                    && m["profile"]["test"] == true
                    && Path::new(m["manifest_path"].as_str().unwrap_or_default()) == folder.join("Cargo.toml")
                    && (m["target"]["name"] == "checks") != own
                    && m["executable"].is_string()
            });
            let made = made.and_then(|m| m["executable"].as_str());
            found.insert(program, PathBuf::from(made.unwrap_or_else(|| panic!("{program:?} was not built"))));
        }
        found
    }

    fn write(&self) -> BTreeMap<String, Woven> {
        let mut files = BTreeMap::new();
        list(&self.root, &self.root, &mut files);
        let mut by_file: BTreeMap<&str, Vec<(usize, &Point)>> = BTreeMap::new();
        for (number, change) in self.changes.iter().enumerate().filter(|(number, _)| !self.broken.contains(number)) {
            by_file.entry(&change.file).or_default().push((number, &change.point));
        }
        let mut all = BTreeMap::new();
        for (name, path) in &files {
            let mut bytes = fs::read(path).expect("a file of the workspace");
            if let Some(points) = by_file.get(name.as_str()) {
                let on = if name.starts_with("core/kernel/") {
                    "crate::mutated::on"
                } else {
                    "gluewright_kernel::mutated::on"
                };
                let woven = weave(std::str::from_utf8(&bytes).expect("a source"), points, on);
                bytes = woven.text.clone().into_bytes();
                all.insert(name.clone(), woven);
            }
            if name == "core/kernel/src/lib.rs" {
                bytes.extend(SWITCH.replace("COUNT", &self.changes.len().to_string()).bytes());
            }
            let to = self.source().join(name);
            // what is as it was keeps its time, so that nothing is built again
            if fs::read(&to).ok().as_ref() != Some(&bytes) {
                fs::create_dir_all(to.parent().expect("a folder")).expect("a folder for the copy");
                fs::write(&to, bytes).expect("a file of the copy");
            }
        }
        all
    }

    fn cargo(&self, arguments: &[&str]) -> Vec<Value> {
        let out = Command::new("cargo")
            .args(arguments)
            .arg("--message-format=json")
            .current_dir(self.source())
            .env("CARGO_TARGET_DIR", self.target.join("build"))
            .env("RUSTFLAGS", "--cap-lints=allow")
            .stderr(Stdio::inherit())
            .output()
            .expect("cargo");
        String::from_utf8_lossy(&out.stdout).lines().filter_map(|line| serde_json::from_str(line).ok()).collect()
    }
}

/// The changes that an error is about.
fn about(message: &Value, woven: &BTreeMap<String, Woven>) -> Vec<usize> {
    if message["message"]["level"] != "error" {
        return Vec::new();
    }
    let mut spans: Vec<&Value> = message["message"]["spans"].as_array().into_iter().flatten().collect();
    spans.sort_by_key(|span| span["is_primary"] != true);
    spans
        .into_iter()
        .map(|span| {
            let number = |key: &str| span[key].as_u64().unwrap_or_default() as usize;
            let bytes = number("byte_start")..number("byte_end");
            let file = span["file_name"].as_str().unwrap_or_default();
            woven.get(file).map(|w| w.about(&bytes)).unwrap_or_default()
        })
        .find(|found| !found.is_empty())
        .unwrap_or_default()
}

fn list(root: &Path, folder: &Path, files: &mut BTreeMap<String, PathBuf>) {
    for entry in fs::read_dir(folder).expect("a folder of the workspace") {
        let path = entry.expect("an entry").path();
        let name = path.file_name().and_then(|n| n.to_str()).unwrap_or_default();
        if path.is_dir() {
            if !matches!(name, "target" | "out" | ".git") {
                list(root, &path, files);
            }
        } else {
            let below = path.strip_prefix(root).expect("below the root");
            files.insert(below.to_string_lossy().into_owned(), path.clone());
        }
    }
}
