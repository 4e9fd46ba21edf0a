//! `saggar engravings`: the engravings of a pack, who could pull from them, when.

use std::path::PathBuf;

use clap::Args;
use saggar::model::Model;
use saggar::report::Shown;

use super::{BAD_FILE, complain, open, print_results};

#[derive(Args)]
pub(super) struct Arguments {
    /// Folder of the pack.
    pack: PathBuf,
    /// Print all of it as JSON.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments) -> u8 {
    let model = match open(&arguments.pack) {
        Ok(model) => model,
        Err(code) => return code,
    };
    let Some(engravings) = model.engravings() else {
        complain(&format!("the pack {} has no engravings", model.name));
        return BAD_FILE;
    };
    let shown = Shown::Engravings(engravings);
    print_results(&[shown], arguments.json)
}

/// How the engravings at hand are shared, where the pack does not say it; nothing for other packs.
pub(super) fn defaults(model: &Model) -> String {
    let Some(histories) = &model.histories else {
        return String::new();
    };
    let (how, who) = if histories.shares_by_default {
        (
            format!(
                "are used alike, on {} pieces' worth of experience",
                saggar::check::SHARES_OF_USE_SEEN
            ),
            "as by default",
        )
    } else {
        ("are used as the pack says".to_owned(), "the pack says so")
    };
    format!("  engravings: those at hand {how}  [{who}; `[use]` in engravings.toml]\n")
}
