//! `saggar marks`: the registry of a pack against what was read of a mark.

use std::path::PathBuf;

use clap::Args;
use saggar::piece::PieceError;
use saggar::report::Shown;

use super::{BAD_FILE, USAGE, complain, open, print_results};

#[derive(Args)]
pub(super) struct Arguments {
    /// Folder of the pack.
    pack: PathBuf,
    /// What was read: letters as they stand, [OC] for a letter in doubt, _ for one that cannot be made out, ? for letters
    /// lost.
    fragment: String,
    /// How the strike looks: clear, faint, part-struck or smeared [default: summed over all four].
    #[arg(long, value_name = "QUALITY")]
    strike: Option<String>,
    /// A device or companion looked for, with what was seen of it: seen (if nothing is said), "partly seen", "not seen";
    /// may be repeated.
    #[arg(long, value_name = "NAME[=SEEN]")]
    device: Vec<String>,
    /// Print the ranking as JSON.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments) -> u8 {
    let model = match open(&arguments.pack) {
        Ok(model) => model,
        Err(code) => return code,
    };
    let seen = arguments
        .device
        .iter()
        .map(|device| match device.split_once('=') {
            Some((name, seen)) => (name.trim(), seen.trim()),
            None => (device.as_str(), "seen"),
        });
    let ranking = match model.rank_marks(&arguments.fragment, arguments.strike.as_deref(), seen) {
        Ok(ranking) => Shown::Marks(ranking),
        Err(error) => {
            complain(&error.to_string());
            return match error {
                PieceError::NoLettering => BAD_FILE,
                _ => USAGE,
            };
        }
    };
    print_results(&[ranking], arguments.json)
}
