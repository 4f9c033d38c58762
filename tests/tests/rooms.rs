//! Every file of checks is a room of its package's one program: one that is left out would never run.
use std::path::Path;

#[test]
fn every_file_of_checks_is_run() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    for package in ["core", "parts", "examples", "tests"] {
        let folder = root.join(package).join("tests");
        let program = std::fs::read_to_string(folder.join("checks.rs")).unwrap();
        let mut found = 0;
        for entry in folder.read_dir().unwrap() {
            let path = entry.unwrap().path();
            let is_room = path.extension().is_some_and(|e| e == "rs") || path.join("main.rs").exists();
            let name = path.file_stem().unwrap().to_str().unwrap();
            if is_room && name != "checks" {
                assert!(program.lines().any(|line| line == format!("mod {name};")), "{package}: {name}");
                found += 1;
            }
        }
        assert!(found > 5, "{package}: {found}");
    }
}
