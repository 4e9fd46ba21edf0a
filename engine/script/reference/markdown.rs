//! The whole reference as Markdown.

use super::examples::SUPPOSED;
use super::topics::topics;

/// Where the packs of [`SUPPOSED`] are.
const PACKS: &str = "A script finds its packs in one folder, `--priors FOLDER`, with the shared rules beside them. The examples need four \
    packs of the repository:\n\n```sh\nmkdir packs\ncp -r priors/tidewheel priors/rules tests/packs/moor_ware tests/packs/dated_ware \
    shared/pottery/romano_british_kilns packs\nsaggar run example.rhai --priors packs\n```";

/// What Rhai brings along, in short.
const RHAI: &str = include_str!("rhai.md");

/// The whole reference as Markdown.
#[must_use]
pub fn markdown() -> String {
    let mut out = String::from(
        "# Script reference\n\nDrawn up by `saggar reference` from the functions themselves. Scripts are written in Rhai.\n\n\
         The examples suppose\n\n```rhai\n",
    );
    for (_, line) in SUPPOSED {
        out += &format!("{line}\n");
    }
    out += &format!("```\n\n{PACKS}\n\n");
    for topic in topics() {
        out += &format!("## {}\n\n{}\n\n", topic.title, topic.about);
        for function in topic.functions {
            out += &format!("### `{}`\n\n{}\n\n", function.signature(), function.text);
            if !function.examples.is_empty() {
                out += &format!("```rhai\n{}\n```\n\n", function.examples.join("\n"));
            }
        }
    }
    out += RHAI;
    out
}
