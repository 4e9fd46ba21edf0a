//! What a script may use and how its results are printed, as the command line says it.

use std::path::{Path, PathBuf};
use std::time::Duration;

use clap::Args;
use saggar::script::Settings;

use super::progress;

/// The script and what all commands that run one let be chosen.
#[derive(Args)]
pub(super) struct ScriptOptions {
    /// The script, such as scripts/d2_partial_mark.rhai.
    pub script: PathBuf,
    /// Print the results as one JSON document.
    #[arg(long)]
    pub json: bool,
    /// Seed of stress runs that name none.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Divides the pieces behind every belief in stress runs: 2 takes each to rest on half as many.
    #[arg(long, default_value_t = 1.0, value_name = "FACTOR")]
    doubt: f64,
    /// Threads of stress runs; the results do not depend on it.
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,
    /// Folder whose packs the script may open [default: priors, here or beside the script's folder].
    #[arg(long, value_name = "FOLDER")]
    priors: Option<PathBuf>,
    /// Seconds that the script, and each question asked behind it, may take.
    #[arg(long, default_value_t = 60, value_name = "SECONDS", value_parser = clap::value_parser!(u32).range(1..=86_400))]
    time_limit: u32,
}

impl ScriptOptions {
    /// What the script may use: it reads from its own folder and from the packs, and writes nowhere.
    pub(super) fn settings(&self) -> Settings {
        let own = self.script.parent().unwrap_or(Path::new("")).to_owned();
        let priors = self.priors.clone();
        let priors = priors.unwrap_or_else(|| default_priors(&self.script));
        Settings {
            seed: self.seed,
            doubt: self.doubt,
            progress: progress::bar(),
            time_limit: Duration::from_secs(self.time_limit.into()),
            imports: vec![own.clone(), default_lib(&own)],
            read: vec![own, priors.clone()],
            ..Settings::new(priors)
        }
    }
}

/// `priors` here, or beside the script's folder: so that the example scripts run from anywhere.
fn default_priors(script: &Path) -> PathBuf {
    let here = PathBuf::from("priors");
    if here.is_dir() {
        return here;
    }
    let folder = script.parent().unwrap_or(Path::new("."));
    let beside = folder.join("..").join("priors");
    if beside.is_dir() { beside } else { here }
}

/// `scripts/lib` here, or `lib` in the script's folder: what scripts share.
pub(super) fn default_lib(own: &Path) -> PathBuf {
    let here = PathBuf::from("scripts/lib");
    if here.is_dir() { here } else { own.join("lib") }
}
