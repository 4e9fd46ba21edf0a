//! `saggar run`: a script, and what it shows.

use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use clap::Args;
use saggar::report::Shown;
use saggar::script::{self, Settings};

use super::script_options::ScriptOptions;
use super::{
    BAD_FILE, FAILED, complain, print_diagnostics, print_results, say, start_threads, told,
};

#[derive(Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    options: ScriptOptions,
    /// Folder whose files the script may read; may be repeated [default: the script's own, and the packs].
    #[arg(long, value_name = "FOLDER")]
    read: Vec<PathBuf>,
    /// Folder the script may write to.
    #[arg(long, value_name = "FOLDER")]
    write: Option<PathBuf>,
    /// Texts that the script finds in `args`, behind `--`.
    #[arg(last = true, value_name = "ARGS")]
    arguments: Vec<String>,
}

/// Runs the command.
pub(super) fn run(arguments: &Arguments) -> u8 {
    let options = &arguments.options;
    if !start_threads(options.threads) {
        return FAILED;
    }
    let by_default = options.settings();
    let settings = Settings {
        read: match arguments.read.is_empty() {
            true => by_default.read,
            false => arguments.read.clone(),
        },
        write: arguments.write.iter().cloned().collect(),
        arguments: arguments.arguments.clone(),
        ..by_default
    };
    // One JSON document holds all results; text is printed as it comes.
    let json = options.json;
    let collected: Arc<Mutex<Vec<Shown>>> = Arc::default();
    let sink = Arc::clone(&collected);
    let after_text = AtomicBool::new(false);
    let show = move |shown: Shown| {
        if json {
            sink.lock()
                .unwrap_or_else(PoisonError::into_inner)
                .push(shown);
        } else {
            // What a script prints stands line under line, a result stands alone.
            let is_result = !matches!(shown, Shown::Text { .. });
            let after_text = after_text.swap(!is_result, Ordering::Relaxed);
            let gap = if is_result && after_text { "\n" } else { "" };
            let end = if is_result { "\n" } else { "" };
            say(&format!("{gap}{}\n{end}", shown.to_text().trim_end()));
        }
    };
    let finished = match script::run(&options.script, settings, show) {
        Ok(finished) => finished,
        Err(error) => {
            complain(&error.to_string());
            return BAD_FILE;
        }
    };
    print_diagnostics(&finished.warnings, &finished.sources);
    // What was shown before a failure stays shown.
    let printed = match json {
        true => print_results(
            &collected.lock().unwrap_or_else(PoisonError::into_inner),
            true,
        ),
        false => 0,
    };
    match finished.failure {
        Some(failure) => told(&failure, &finished.sources),
        None => printed,
    }
}
