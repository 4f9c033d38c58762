//! The output folder: written whole or not at all.
use std::fs;
use std::io::{self, Write};
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
        // on the disk before the folder takes its place: a full disk is found out now, not when it is too late
        let whole =
            |path: &Path| fs::File::create(path).and_then(|mut f| f.write_all(bytes).and_then(|()| f.sync_all()));
        whole(&path).map_err(at(&path))?;
    }
    // a temporary folder is closed to others; the result is a folder like any other
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        fs::set_permissions(fresh.path(), fs::Permissions::from_mode(0o755)).map_err(at(fresh.path()))?;
    }
    if !target.exists() {
        return place(fresh, target);
    }
    if exchange(fresh.path(), target).is_ok() {
        // what is in the temporary folder now is what was there before; it goes when `fresh` does
        return Ok(());
    }
    let aside = tempfile::Builder::new().prefix(".replaced-").tempdir_in(parent).map_err(at(parent))?;
    let kept = aside.path().join("old");
    fs::rename(target, &kept).map_err(at(target))?;
    place(fresh, target).inspect_err(|_| {
        // nothing better can be done if this fails too: the old folder is still there, under the other name
        if fs::rename(&kept, target).is_err() {
            let _ = aside.keep();
        }
    })
}

/// Gives the folder its name where nothing has it.
fn place(fresh: tempfile::TempDir, target: &Path) -> Result<(), (PathBuf, io::Error)> {
    let fresh = fresh.keep();
    fs::rename(&fresh, target).map_err(|e| {
        let _ = fs::remove_dir_all(&fresh);
        (target.to_owned(), e)
    })
}

/// Gives two folders each other's names at one moment, so that no interruption finds neither.
#[cfg(target_os = "linux")]
fn exchange(one: &Path, other: &Path) -> io::Result<()> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    Ok(renameat_with(CWD, one, CWD, other, RenameFlags::EXCHANGE)?)
}

/// There is no such call in the standard library: the old folder goes aside first.
#[cfg(not(target_os = "linux"))]
fn exchange(_: &Path, _: &Path) -> io::Result<()> {
    Err(io::ErrorKind::Unsupported.into())
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
