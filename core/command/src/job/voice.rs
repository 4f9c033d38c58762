//! How a run speaks: to a person on both streams as it goes, to a program in one JSON document on standard output.
use std::fmt::Display;
use std::io::{self, Write};
use std::process::ExitCode;

use serde::Serialize;

use super::record;

/// Who listens. A program finds all that was said in the document, and nothing on standard error.
pub(super) struct Voice {
    json: bool,
    remarks: Vec<String>,
    unheard: bool,
}

impl Voice {
    pub(super) fn new(json: bool) -> Self {
        Voice { json, remarks: Vec::new(), unheard: false }
    }

    /// Something beside the result: a person reads it at once, a program among the remarks.
    pub(super) fn remark(&mut self, words: impl Display) {
        if self.json {
            self.remarks.push(words.to_string());
        } else {
            self.aside(words);
        }
    }

    /// What a person is told on standard error; a program has it in the document's own fields.
    pub(super) fn aside(&self, words: impl Display) {
        if !self.json {
            // nobody can be told that nobody listens
            let _ = writeln!(io::stderr(), "{words}");
        }
    }

    /// A part of the result that a person reads while the rest is still being worked out.
    pub(super) fn text(&mut self, words: impl Display) {
        if !self.json {
            self.out(words);
        }
    }

    /// The document, for a program.
    pub(super) fn document(&mut self, record: &impl Serialize) {
        if self.json {
            let document = record::document(record, &self.remarks);
            self.out(document);
        }
    }

    /// The whole result, in either way.
    pub(super) fn result(&mut self, text: impl Display, record: &impl Serialize) {
        self.text(text);
        self.document(record);
    }

    /// The exit status, which is no success if the result could not be printed. Whoever closes a pipe has read enough.
    pub(super) fn ends(self, status: u8) -> ExitCode {
        ExitCode::from(if self.unheard { 2 } else { status })
    }

    fn out(&mut self, words: impl Display) {
        let mut out = io::stdout().lock();
        if let Err(e) = write!(out, "{words}").and_then(|()| out.flush())
            && e.kind() != io::ErrorKind::BrokenPipe
        {
            let _ = writeln!(io::stderr(), "can't print the result: {e}");
            self.unheard = true;
        }
    }
}
