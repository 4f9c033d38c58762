//! The output folder: written whole or not at all.
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// Writes all files into a fresh folder beside `target`, then puts it in the place of `target`.
///
/// # Errors
/// Whatever the file system says, with the path. `target` is then as it was.
pub(super) fn write(target: &Path, files: &[(String, Vec<u8>)]) -> Result<(), (PathBuf, io::Error)> {
    let parent = target.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or_else(|| Path::new("."));
    let at = |p: &Path| {
        let p = p.to_owned();
        move |e| (p, e)
    };
    fs::create_dir_all(parent).map_err(at(parent))?;
    let fresh = tempfile::Builder::new().prefix(".writing-").tempdir_in(parent).map_err(at(parent))?;
    for (name, bytes) in files {
        let path = fresh.path().join(name);
        fs::write(&path, bytes).map_err(at(&path))?;
    }
    // a temporary folder is closed to others; the result is a folder like any other
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        fs::set_permissions(fresh.path(), fs::Permissions::from_mode(0o755)).map_err(at(fresh.path()))?;
    }
    let old = if target.exists() {
        let aside = tempfile::Builder::new().prefix(".replaced-").tempdir_in(parent).map_err(at(parent))?;
        let kept = aside.path().join("old");
        fs::rename(target, &kept).map_err(at(target))?;
        Some((aside, kept))
    } else {
        None
    };
    let fresh = fresh.keep();
    if let Err(e) = fs::rename(&fresh, target) {
        if let Some((_, kept)) = &old {
            // nothing better can be done if this fails too: both folders are still there
            let _ = fs::rename(kept, target);
        }
        let _ = fs::remove_dir_all(&fresh);
        return Err((target.to_owned(), e));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(name: &str, text: &str) -> (String, Vec<u8>) {
        (name.to_owned(), text.as_bytes().to_owned())
    }

    #[test]
    fn a_second_writing_replaces_the_first_whole() {
        let room = tempfile::tempdir().unwrap();
        let target = room.path().join("out/card");
        write(&target, &[file("a", "1"), file("b", "2")]).unwrap();
        write(&target, &[file("a", "3")]).unwrap();
        assert_eq!(fs::read_to_string(target.join("a")).unwrap(), "3");
        assert!(!target.join("b").exists());
        assert_eq!(fs::read_dir(room.path().join("out")).unwrap().count(), 1, "nothing else is left there");
    }

    #[test]
    fn a_writing_that_fails_leaves_what_was_there() {
        let room = tempfile::tempdir().unwrap();
        let target = room.path().join("card");
        write(&target, &[file("a", "1")]).unwrap();
        assert!(write(&target, &[file("a", "2"), file("no/such/folder", "")]).is_err());
        assert_eq!(fs::read_to_string(target.join("a")).unwrap(), "1");
        assert_eq!(fs::read_dir(room.path()).unwrap().count(), 1);
    }
}
