//! `saggar reference`: the functions that scripts can call.

use clap::Args;
use saggar::script::reference;

use super::say;

#[derive(Args)]
pub(super) struct Arguments {
    /// Print the definitions that editors for Rhai read, such as for `scripts/saggar.d.rhai`.
    #[arg(long)]
    definitions: bool,
}

/// Runs the command.
pub(super) fn run(arguments: &Arguments) -> u8 {
    say(&if arguments.definitions {
        reference::definitions()
    } else {
        reference::markdown()
    });
    0
}
