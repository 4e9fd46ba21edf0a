//! The program: arguments in, results on standard output, everything else on standard error.
//!
//! Exit codes: 0 done, 1 findings that contradict each other or a pack with defects, 2 usage, 3 a file that cannot be
//! used, 4 a script error.

mod command;

use std::process::ExitCode;

fn main() -> ExitCode {
    command::main()
}
