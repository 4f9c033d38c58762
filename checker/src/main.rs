//! `gluewright-checker PATH`: checks the certificate in a job's output folder, or in a bundle. Exit status 0 if the claim stands, 1 if
//! not, 2 for wrong use or if it could not be judged.
use std::process::ExitCode;

use gluewright_checker::folder;

fn main() -> ExitCode {
    let arguments: Vec<_> = std::env::args_os().skip(1).collect();
    let [path] = arguments.as_slice() else {
        eprintln!("usage: gluewright-checker PATH\n\nPATH is a job's output folder, or a bundle of one.");
        return ExitCode::from(2);
    };
    let began = std::time::Instant::now();
    let verdict = folder::check(path.as_ref());
    println!("{verdict}{:.1} ms", began.elapsed().as_secs_f64() * 1e3);
    ExitCode::from(u8::from(!verdict.stands()) + u8::from(!verdict.orders.is_empty()))
}
