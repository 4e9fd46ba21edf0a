//! `saggar marks`: the registry of a pack against what was read of a mark.

use std::path::PathBuf;

use clap::Args;
use saggar::piece::PieceError;
use saggar::report::{self, Shown};
use saggar::source::Sources;

use super::{BAD_FILE, FAILED, USAGE, complain, print_diagnostics, read, say};

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
    let mut sources = Sources::default();
    let mut found = Vec::new();
    let model = match read(&arguments.pack, &mut sources, &mut found) {
        Ok(Some(model)) => model,
        Ok(None) => {
            print_diagnostics(&found, &sources);
            return BAD_FILE;
        }
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
    if !arguments.json {
        say(&ranking.to_text());
        return 0;
    }
    match report::to_json(&[ranking]) {
        Ok(document) => {
            say(&format!("{document}\n"));
            0
        }
        Err(error) => {
            complain(&format!("the ranking cannot be written as JSON: {error}"));
            FAILED
        }
    }
}
