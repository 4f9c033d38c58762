//! The output folder: written whole or not at all.
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

/// What the name of a folder begins with that is being filled: `.CIRCUIT.writing-` and something that tells it from
/// others.
const WRITING: &str = ".writing-";

/// How old a folder is at least that a killed run has left; a run fills its own within seconds.
const LEFT: Duration = Duration::from_secs(60 * 60);

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
    let prefix = format!(".{}{WRITING}", target.file_name().unwrap_or_default().to_string_lossy());
    sweep(parent, &prefix, LEFT);
    let fresh = tempfile::Builder::new().prefix(&prefix).tempdir_in(parent).map_err(at(parent))?;
    for (name, bytes) in files {
        let path = fresh.path().join(name);
        if let Some(within) = path.parent() {
            fs::create_dir_all(within).map_err(at(within))?;
        }
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

/// Removes what killed runs have left here: folders of this name, at least so old. Nothing depends on it, so nothing is
/// said if it fails.
fn sweep(parent: &Path, prefix: &str, age: Duration) {
    let Ok(entries) = fs::read_dir(parent) else { return };
    for entry in entries.flatten() {
        let is_ours = entry.file_name().to_str().is_some_and(|name| name.starts_with(prefix));
        // of the entry itself: a link is never followed
        let Some(known) = entry.metadata().ok().filter(|m| is_ours && m.is_dir()) else { continue };
        let is_left = known.modified().is_ok_and(|m| SystemTime::now().duration_since(m).is_ok_and(|a| a >= age));
        if is_left {
            let _ = fs::remove_dir_all(entry.path());
        }
    }
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
    fn what_a_killed_run_has_left_goes_once_it_is_old() {
        let room = tempfile::tempdir().unwrap();
        let left = |name: &str| {
            fs::create_dir(room.path().join(name)).unwrap();
            fs::write(room.path().join(name).join("a"), "half").unwrap();
        };
        left(".card.writing-4711");
        left(".other.writing-4711");
        fs::write(room.path().join(".card.writing-file"), "").unwrap();
        // it may be a run that is still going on
        write(&room.path().join("card"), &[file("a", "1")]).unwrap();
        assert!(room.path().join(".card.writing-4711/a").exists());
        let dir = fs::File::open(room.path().join(".card.writing-4711")).unwrap();
        dir.set_modified(SystemTime::now() - 2 * LEFT).unwrap();
        write(&room.path().join("card"), &[file("a", "2")]).unwrap();
        assert!(!room.path().join(".card.writing-4711").exists());
        assert!(room.path().join(".other.writing-4711/a").exists() && room.path().join(".card.writing-file").exists());
    }

    #[test]
    fn a_writing_that_fails_leaves_what_was_there() {
        let room = tempfile::tempdir().unwrap();
        let target = room.path().join("card");
        write(&target, &[file("a", "1")]).unwrap();
        // `a` is a file, so nothing can be within it
        assert!(write(&target, &[file("a", "2"), file("a/within", "")]).is_err());
        assert_eq!(fs::read_to_string(target.join("a")).unwrap(), "1");
        assert_eq!(fs::read_dir(room.path()).unwrap().count(), 1);
    }
}
