//! A reader that gives up when one command or one row takes too much: a hostile file must not fill memory.
use std::io::{self, BufRead, Read};

/// What one command or row may take.
pub(super) const LONGEST: u64 = 1 << 20;

/// A reader with an allowance that its user renews.
#[derive(Debug)]
pub(super) struct Bounded<R> {
    inner: R,
    left: u64,
}

impl<R> Bounded<R> {
    pub(super) fn new(inner: R) -> Self {
        Bounded { inner, left: LONGEST }
    }

    /// The next command or row may take as much again.
    pub(super) fn renew(&mut self) {
        self.left = LONGEST;
    }
}

fn too_long() -> io::Error {
    io::Error::other("one command or row is longer than a megabyte")
}

impl<R: Read> Read for Bounded<R> {
    fn read(&mut self, buf: &mut [u8]) -> io::Result<usize> {
        let n = self.inner.read(buf)?;
        self.left = self.left.checked_sub(n as u64).ok_or_else(too_long)?;
        Ok(n)
    }
}

impl<R: BufRead> BufRead for Bounded<R> {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        self.inner.fill_buf()
    }
    fn consume(&mut self, amount: usize) {
        self.left = self.left.saturating_sub(amount as u64);
        self.inner.consume(amount);
    }
}
