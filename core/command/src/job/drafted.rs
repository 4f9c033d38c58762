//! A first draft of a replacement, from a trace: on the screen, into a file, or as a package of its own.
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, Stdio};

use clap::Parser;
use gluewright_analysis::draft::{Draft, Form, draft};
use gluewright_kernel::board::Library;
use serde::Serialize;

use super::traced::{Given, answered, content, read};
use super::voice::Voice;
use super::{JobError, folder};

/// What the command line for drafts offers.
#[derive(Clone, Debug, Parser)]
#[command(
    about = "Writes a first draft of the replacement for a traced card, as Rust to be edited",
    after_help = "Exit status: 0 written; 2 the trace has errors, wrong use or bad input."
)]
pub(super) struct Options {
    #[command(flatten)]
    given: Given,
    /// The name of the replacement, as Rust writes types; else it is made of the file's name
    #[arg(long)]
    name: Option<String>,
    /// Make a whole package in this new folder: manifest, source with `main`, and the trace
    #[arg(long, value_name = "FOLDER")]
    package: Option<PathBuf>,
    /// Where the package finds Gluewright: the folder of its sources; else the published version
    #[arg(long, value_name = "FOLDER", requires = "package")]
    sources: Option<PathBuf>,
    /// Print one JSON document instead of text, and nothing on standard error
    #[arg(long)]
    json: bool,
}

/// What a program is told.
#[derive(Serialize)]
struct Record<'r> {
    trace: &'r str,
    draft: &'r Draft,
    gluewright: &'static str,
}

pub(super) fn run(options: &Options, library: &dyn Library) -> ExitCode {
    answered(options.json, |voice| act(options, library, voice))
}

fn act(options: &Options, library: &dyn Library, voice: &mut Voice) -> Result<(), JobError> {
    let given = &options.given;
    let name = given.file.display().to_string();
    let board = read(given, &name, library)?;
    let circuit = if given.replace.is_empty() { board.circuit()? } else { board.replacing(&given.replace)?.rest };
    let trace = given.file.file_name().map_or_else(|| name.clone(), |f| f.to_string_lossy().into_owned());
    let mut form = Form::of_trace(&trace).replacing(&given.replace);
    form.others_stay = given.others_stay;
    form.printed_supplies = given.printed_supplies;
    if let Some(name) = &options.name {
        form.name.clone_from(name);
    }
    if options.package.is_some() {
        form = form.with_main();
    }
    let mut draft = draft(&circuit, &form)?;
    draft.source = tidy(&draft.source).unwrap_or(draft.source);
    if !given.is_plain_csv() {
        if options.package.is_some() {
            return Err(JobError::NotPlainTrace(name));
        }
        draft.remarks.push("the source reads the trace as plain CSV: read it as it was read here".to_owned());
    }
    for remark in &draft.remarks {
        voice.aside(remark);
    }
    match &options.package {
        Some(target) => {
            if target.exists() {
                return Err(JobError::Exists(target.clone()));
            }
            let files = package(&draft, &trace, content(&given.file)?, options.sources.as_deref());
            folder::write(target, &files).map_err(|(path, error)| JobError::Write { path, error })?;
            let said = format!(
                "{0}: written. `cargo test` in it proves the draft, `cargo run` makes the files.\n",
                target.display()
            );
            voice.result(said, &Record { trace: &name, draft: &draft, gluewright: env!("CARGO_PKG_VERSION") });
        }
        None => {
            voice.result(&draft.source, &Record { trace: &name, draft: &draft, gluewright: env!("CARGO_PKG_VERSION") })
        }
    }
    Ok(())
}

/// The files of a package.
fn package(draft: &Draft, trace: &str, content: Vec<u8>, sources: Option<&Path>) -> Vec<(String, Vec<u8>)> {
    let stem = trace.split('.').next().unwrap_or(trace);
    let name: String =
        stem.chars().map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '_' }).collect();
    let name = if name.starts_with(|c: char| c.is_ascii_alphabetic()) { name } else { format!("card_{name}") };
    let place = |folder: &str| {
        let path = sources.map(|s| format!("path = {:?}", s.join(folder).display().to_string()));
        path.unwrap_or_else(|| format!("version = {:?}", env!("CARGO_PKG_VERSION")))
    };
    let manifest = format!(
        "[package]\nname = \"{name}\"\nversion = \"0.1.0\"\nedition = \"2024\"\npublish = false\n\n[dependencies]\n\
         gluewright = {{ {} }}\ngluewright-parts = {{ {} }}\n\n\
         # the proof is the inner loop of `cargo test`; everything else is built as fast as can be\n\
         [profile.dev.package.\"*\"]\ndebug = false\n\n\
         [profile.dev.package.gluewright-kernel]\nopt-level = 2\n\
         [profile.dev.package.gluewright-devices]\nopt-level = 2\n\
         [profile.dev.package.gluewright-analysis]\nopt-level = 2\n\
         [profile.dev.package.gluewright-report]\nopt-level = 2\n\
         [profile.dev.package.gluewright-parts]\nopt-level = 1\n\n\
         # this is a workspace of its own\n[workspace]\n",
        place("core"),
        place("parts")
    );
    vec![
        ("Cargo.toml".to_owned(), manifest.into_bytes()),
        ("src/main.rs".to_owned(), draft.source.clone().into_bytes()),
        (format!("src/{trace}"), content),
    ]
}

/// The source in the form that Rust's own formatter gives it, if that is there.
fn tidy(source: &str) -> Option<String> {
    use std::io::Write;
    let mut child = Command::new("rustfmt")
        .args(["--edition", "2024"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .ok()?;
    child.stdin.take()?.write_all(source.as_bytes()).ok()?;
    let done = child.wait_with_output().ok()?;
    done.status.success().then(|| String::from_utf8(done.stdout).ok())?
}
