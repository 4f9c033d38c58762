//! One file that is written whole or not at all.
use std::io::Write;
use std::path::Path;

use super::JobError;

/// A file that is written whole, but not yet in its place.
pub(super) struct Ready<'p> {
    file: tempfile::NamedTempFile,
    path: &'p Path,
}

impl Ready<'_> {
    /// Puts it in its place.
    ///
    /// # Errors
    /// If the system does not let it; what was there is as it was.
    pub(super) fn place(self) -> Result<(), JobError> {
        let Ready { file, path } = self;
        file.persist(path).map_err(|e| JobError::Write { path: path.to_owned(), error: e.error })?;
        Ok(())
    }
}

/// Writes a file beside its place.
///
/// # Errors
/// If the system does not let it.
pub(super) fn beside<'p>(path: &'p Path, bytes: &[u8]) -> Result<Ready<'p>, JobError> {
    let failed = |error| JobError::Write { path: path.to_owned(), error };
    let room = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or_else(|| Path::new("."));
    let mut file = tempfile::NamedTempFile::new_in(room).map_err(failed)?;
    file.write_all(bytes).map_err(failed)?;
    file.as_file().sync_all().map_err(failed)?;
    // a temporary file is closed to others; the result is a file like any other
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        file.as_file().set_permissions(std::fs::Permissions::from_mode(0o644)).map_err(failed)?;
    }
    Ok(Ready { file, path })
}
