//! A bundle: a job's folder with its source in one archive, and the list of its files with their digests.
use std::collections::BTreeMap;
use std::io::Read;
use std::path::{Component, Path};

use anyhow::{Context, Result, ensure};
use serde::Deserialize;

use crate::certificate::File;
use crate::folder::tied;
use crate::verdict::Verdict;

/// The name of the list in the archive.
pub const LIST: &str = "bundle.json";

/// Files at most in a bundle, and bytes of all of them: a job writes some twenty files of a few megabytes.
const MOST_FILES: usize = 1_000;
const MOST_BYTES: u64 = 1 << 30;

const FAULT: &str = "the archive can't be read";

/// The files of a bundle by their names.
#[derive(Debug, Default)]
pub struct Bundle {
    files: BTreeMap<String, Vec<u8>>,
}

/// What `bundle.json` says, as far as it is checked.
#[derive(Deserialize)]
struct List {
    format: String,
    version: u32,
    files: Vec<File>,
}

impl Bundle {
    /// Reads an archive (POSIX tar): regular files in one folder, and folders.
    ///
    /// # Errors
    /// What is wrong with the archive: it is cut short, holds something else than files, or too much.
    pub fn read(archive: impl Read) -> Result<Bundle> {
        let mut bundle = Bundle::default();
        let mut left = MOST_BYTES;
        for entry in tar::Archive::new(archive).entries().context(FAULT)? {
            let entry = entry.context(FAULT)?;
            let (path, kind) = (entry.path().context(FAULT)?.into_owned(), entry.header().entry_type());
            if kind.is_dir() {
                continue;
            }
            ensure!(kind.is_file(), "`{}` in the archive is no file", path.display());
            let name = name(&path).with_context(|| format!("`{}` is no name of a file in a bundle", path.display()))?;
            let size = entry.header().size().context(FAULT)?;
            left = left.checked_sub(size).context("the archive holds more than a bundle does")?;
            let mut bytes = Vec::new();
            entry.take(size).read_to_end(&mut bytes).context(FAULT)?;
            ensure!(bytes.len() as u64 == size, "{name}: the archive is cut short");
            ensure!(
                bundle.files.insert(name.clone(), bytes).is_none() && bundle.files.len() <= MOST_FILES,
                "`{name}` is twice in the archive, or it holds more files than a bundle does"
            );
        }
        ensure!(!bundle.files.is_empty(), "the archive holds no file");
        Ok(bundle)
    }

    /// The bytes of a file.
    ///
    /// # Errors
    /// If there is none of this name.
    pub fn file(&self, name: &str) -> Result<Vec<u8>> {
        self.files.get(name).cloned().with_context(|| format!("{name}: the bundle has no such file"))
    }

    /// Objects to every file that is not as the list has it, that the list lacks, or that is not there.
    pub(crate) fn check(&self, verdict: &mut Verdict) -> Result<()> {
        let list: List = serde_json::from_slice(&self.file(LIST)?).context(LIST)?;
        ensure!(
            list.format == "gluewright bundle" && list.version == 1,
            "{LIST}: the checker reads version 1 of a gluewright bundle"
        );
        tied(&list.files, &|name| self.file(name), LIST, verdict);
        for name in self.files.keys().filter(|name| *name != LIST) {
            if !list.files.iter().any(|listed| listed.name == *name) {
                verdict.objects(format!("{name}: {LIST} does not list it"));
            }
        }
        Ok(())
    }
}

/// What the file is called within the folder that the archive holds.
fn name(path: &Path) -> Option<String> {
    let part = |part| if let Component::Normal(part) = part { part.to_str() } else { None };
    match path.components().map(part).collect::<Option<Vec<&str>>>()?.as_slice() {
        [_folder, within @ ..] if !within.is_empty() => Some(within.join("/")),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn archive(files: &[(&str, &str)]) -> Vec<u8> {
        let mut builder = tar::Builder::new(Vec::new());
        for (name, text) in files {
            let mut header = tar::Header::new_ustar();
            header.set_size(text.len() as u64);
            header.set_mode(0o644);
            builder.append_data(&mut header, name, text.as_bytes()).unwrap();
        }
        builder.into_inner().unwrap()
    }

    #[test]
    fn files_are_found_by_their_names_within_the_folder() {
        let bundle = Bundle::read(&*archive(&[("card/a.csv", "1"), ("card/source/card.rs", "2")])).unwrap();
        assert_eq!(bundle.file("a.csv").unwrap(), b"1");
        assert_eq!(bundle.file("source/card.rs").unwrap(), b"2");
        assert!(bundle.file("b.csv").unwrap_err().to_string().contains("no such file"));
    }

    #[test]
    fn an_archive_that_is_none_or_cut_short_is_refused() {
        assert!(Bundle::read(&b"ref,part,pin,net\n"[..]).is_err());
        let whole = archive(&[("card/a.csv", &"1".repeat(3000))]);
        assert!(Bundle::read(&whole[..2000]).is_err());
        assert!(
            Bundle::read(&*archive(&[("card/a", "1"), ("card/a", "2")])).unwrap_err().to_string().contains("twice")
        );
        assert!(Bundle::read(&*archive(&[("a", "1")])).unwrap_err().to_string().contains("no name"));
    }

    #[test]
    fn the_list_must_name_every_file_as_it_is() {
        let list = |digest: &str| {
            format!(r#"{{"format":"gluewright bundle","version":1,"files":[{{"name":"a","sha256":"{digest}"}}]}}"#)
        };
        let objections = |files: &[(&str, &str)]| {
            let mut verdict = Verdict::default();
            Bundle::read(&*archive(files)).unwrap().check(&mut verdict).unwrap();
            verdict.objections
        };
        // the digest of "abc" stands in FIPS 180-2, appendix B.1
        let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert!(objections(&[("c/a", "abc"), ("c/bundle.json", &list(abc))]).is_empty());
        assert!(objections(&[("c/a", "abd"), ("c/bundle.json", &list(abc))])[0].contains("digest"));
        assert!(objections(&[("c/bundle.json", &list(abc))])[0].contains("no such file"));
        let more = objections(&[("c/a", "abc"), ("c/b", "1"), ("c/bundle.json", &list(abc))]);
        assert!(more[0].contains("does not list"), "{more:?}");
    }
}
