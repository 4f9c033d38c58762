//! Published fuse files of real boards, beside the project: `../shared/fuses`, or the folder that GLUEWRIGHT_FUSES names.
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use gluewright::device::Remark;
use gluewright::job::{Same, Saved};

use super::reader;

fn files() -> Option<Vec<PathBuf>> {
    let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../shared/fuses");
    let folder = std::env::var_os("GLUEWRIGHT_FUSES").map_or(beside, PathBuf::from);
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder).ok()?.filter_map(|f| Some(f.ok()?.path())).collect();
    files.retain(|path| path.extension().is_some_and(|e| e.eq_ignore_ascii_case("jed")));
    files.sort();
    Some(files)
}

/// Prints how many are read and how many refused, and why. Each that reads has the fuses that a reader from outside finds.
#[test]
fn published_fuse_files_read() {
    let Some(files) = files() else {
        println!("left out: no published fuse files beside the project, and GLUEWRIGHT_FUSES names none");
        return;
    };
    let (mut read, mut refused): (BTreeMap<&str, usize>, BTreeMap<String, usize>) = (BTreeMap::new(), BTreeMap::new());
    let (mut not_described, mut terms_off, mut compared, mut by_structure) = (0, 0, 0, 0);
    for path in &files {
        let bytes = std::fs::read(path).unwrap();
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let saved = match Saved::read(&name, &bytes, None) {
            Ok(saved) => saved,
            Err(error) => {
                *refused.entry(error.kind().to_owned()).or_default() += 1;
                println!("    {error}");
                continue;
            }
        };
        *read.entry(saved.device.name).or_default() += 1;
        if let Ok(plain) = reader::read(&bytes) {
            assert_eq!(plain.fuses, saved.file.fuses.states(), "{name}");
            compared += 1;
        }
        let remarks = saved.device.remarks(&saved.file.fuses);
        not_described += usize::from(remarks.iter().any(|r| matches!(r, Remark::NotDescribed { .. })));
        terms_off += usize::from(remarks.iter().any(|r| matches!(r, Remark::UnusedTermsOff { .. })));
        assert!(remarks.iter().filter(|r| matches!(r, Remark::UnusedTermsOff { .. })).count() <= 1);
        saved.equations().unwrap_or_else(|e| panic!("{name}: {e}"));
        // a file does what it does, whether its loops rest or not
        let again = Saved::read("again.jed", &bytes, None).unwrap();
        assert!(matches!(saved.same_as(&again), Ok(Same::Structure)), "{name}");
        by_structure += 1;
    }
    println!("fuse files: {}, read {:?}, refused {refused:?}", files.len(), read);
    println!("with pins that are not described: {not_described}; with unused terms switched off: {terms_off}");
    println!("compared with a reader from outside: {compared}; compared by structure: {by_structure}");
    assert!(refused.is_empty(), "{refused:?}");
}
