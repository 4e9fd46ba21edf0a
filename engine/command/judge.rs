//! `saggar judge`: asks of the piece that a script describes, without a line added to the script.

use std::path::{Path, PathBuf};
use std::time::Duration;

use clap::Args;
use saggar::report::{self, Shown};
use saggar::script::{self, Cause, Entered, ScriptFailure, Session, Settings};
use saggar::source::Sources;

use super::{
    BAD_FILE, FAILED, SCRIPT_ERROR, USAGE, complain, default_lib, default_priors,
    print_diagnostics, progress, say, start_threads,
};

#[derive(Args)]
pub(super) struct Arguments {
    /// The script that describes the piece. What it shows itself is left out.
    script: PathBuf,
    /// The variable that holds the piece [default: the one described last].
    #[arg(long, value_name = "NAME")]
    piece: Option<String>,
    /// What is asked instead of who leads, as in scripts: 'region("Saltharrow")', 'maker("K07").against(maker("K11"))'.
    #[arg(long, value_name = "CLAIM")]
    about: Option<String>,
    /// The verdict; it is what you get if you ask for nothing.
    #[arg(long)]
    verdict: bool,
    /// How far each finding moved the odds.
    #[arg(long)]
    audit: bool,
    /// So many draws of all beliefs: would it hold?
    #[arg(long, value_name = "DRAWS")]
    stress: Option<u32>,
    /// Which beliefs explain the spread, from so many pairs of draws.
    #[arg(long, value_name = "DRAWS")]
    explain: Option<u32>,
    /// What the answer hangs on, one belief at a time, exactly.
    #[arg(long)]
    sensitivity: bool,
    /// What to look at next.
    #[arg(long)]
    next_look: bool,
    /// A plan of up to so many looks, from 1 to 4.
    #[arg(long, value_name = "LOOKS")]
    plan: Option<u8>,
    /// The readings that would overturn the verdict.
    #[arg(long)]
    overturn: bool,
    /// The verdict under other assumptions.
    #[arg(long)]
    contrasts: bool,
    /// The verdict under every state of a clue; named more than once, of all of them together.
    #[arg(long, value_name = "CLUE")]
    vary: Vec<String>,
    /// Why the leading maker and not this one.
    #[arg(long, value_name = "MAKER")]
    why_not: Option<String>,
    /// The piece under another pack, by the name of its folder, the difference shared out clue by clue.
    #[arg(long, value_name = "PACK")]
    under: Option<String>,
    /// The piece beside another one of the script, by its variable.
    #[arg(long, value_name = "NAME")]
    beside: Option<String>,
    /// Print the results as one JSON document.
    #[arg(long)]
    json: bool,
    /// Seed of what is drawn.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Divides the pieces behind every belief in stress runs: 2 takes each to rest on half as many.
    #[arg(long, default_value_t = 1.0, value_name = "FACTOR")]
    doubt: f64,
    /// Standard error at which a stress run may stop.
    #[arg(long, value_name = "ERROR")]
    error_below: Option<f64>,
    /// Threads; the results do not depend on it.
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..=1024))]
    threads: Option<u16>,
    /// Folder whose packs the script may open [default: priors, here or beside the script's folder].
    #[arg(long, value_name = "FOLDER")]
    priors: Option<PathBuf>,
    /// Seconds that the script, and each question, may take.
    #[arg(long, default_value_t = 60, value_name = "SECONDS", value_parser = clap::value_parser!(u32).range(1..=86_400))]
    time_limit: u32,
}

impl Arguments {
    /// What is asked, as a script would ask it of the piece in a variable.
    fn questions(&self, piece: &str) -> Vec<String> {
        let about = self.about.as_deref();
        let or_none = |about: Option<&str>| about.unwrap_or_default().to_owned();
        let in_map = about.map(|about| format!("#{{ about: {about} }}"));
        let options = |more: Option<String>| {
            let about = about.map(|about| format!("about: {about}"));
            let all: Vec<String> = about.into_iter().chain(more).collect();
            format!("#{{ {} }}", all.join(", "))
        };
        let until = self
            .error_below
            .map(|error| format!("error_below: {error:?}"));
        let mut asked = Vec::new();
        let mut ask = |is_asked: bool, call: String| {
            if is_asked {
                asked.push(format!("{piece}.{call}"));
            }
        };
        ask(self.verdict, "verdict()".to_owned());
        ask(self.audit, format!("audit({})", or_none(about)));
        if let Some(draws) = self.stress {
            ask(true, format!("stress({draws}, {})", options(until)));
        }
        if let Some(draws) = self.explain {
            ask(
                true,
                format!("stress_explained({draws}, {})", options(None)),
            );
        }
        ask(self.sensitivity, format!("sensitivity({})", or_none(about)));
        ask(self.contrasts, "contrasts()".to_owned());
        if !self.vary.is_empty() {
            let clues: Vec<String> = self.vary.iter().map(|clue| script::quoted(clue)).collect();
            let about = about.map_or_else(String::new, |about| format!(", {about}"));
            ask(true, format!("vary([{}]{about})", clues.join(", ")));
        }
        if let Some(maker) = &self.why_not {
            ask(true, format!("why_not({})", script::quoted(maker)));
        }
        let map = or_none(in_map.as_deref());
        ask(self.next_look, format!("next_look({map})"));
        if let Some(looks) = self.plan {
            let map = in_map.map_or_else(String::new, |map| format!(", {map}"));
            ask(true, format!("plan({looks}{map})"));
        }
        ask(self.overturn, format!("overturn({map})"));
        let beside = |other: String| match about {
            Some(about) => format!("compare({piece}, {other}, {about})"),
            None => format!("compare({piece}, {other})"),
        };
        if let Some(pack) = &self.under {
            let pack = script::quoted(pack);
            asked.push(beside(format!("{piece}.under(open_pack({pack}))")));
        }
        asked.extend(self.beside.clone().map(beside));
        if asked.is_empty() {
            asked.push(match about {
                Some(about) => format!("{piece}.audit({about})"),
                None => format!("{piece}.verdict()"),
            });
        }
        asked
    }
}

/// Runs the command.
pub(super) fn run(arguments: &Arguments) -> u8 {
    if !start_threads(arguments.threads) {
        return FAILED;
    }
    let mut sources = Sources::default();
    let text = match sources.read(&arguments.script) {
        Ok(source) => sources.file(source).text.clone(),
        Err(error) => {
            complain(&error.to_string());
            return BAD_FILE;
        }
    };
    let own = arguments
        .script
        .parent()
        .unwrap_or(Path::new(""))
        .to_owned();
    let priors = arguments.priors.clone();
    let priors = priors.unwrap_or_else(|| default_priors(&arguments.script));
    let settings = Settings {
        seed: arguments.seed,
        doubt: arguments.doubt,
        progress: progress::bar(),
        time_limit: Duration::from_secs(arguments.time_limit.into()),
        imports: vec![own.clone(), default_lib(&own)],
        read: vec![own, priors.clone()],
        ..Settings::new(priors)
    };
    let asked = |session: &mut Session| ask(session, arguments, &text);
    // What the script shows is its own business; what is asked here comes back as values.
    let session = script::with_session(settings, |_| {}, asked);
    match session {
        Err(error) => {
            complain(&format!("the script cannot be started: {error}"));
            FAILED
        }
        Ok(Err(code)) => code,
        Ok(Ok(results)) => print(&results, arguments.json),
    }
}

fn print(results: &[Shown], json: bool) -> u8 {
    if !json {
        for result in results {
            say(&format!("{}\n\n", result.to_text().trim_end()));
        }
        return 0;
    }
    match report::to_json(results) {
        Ok(document) => {
            say(&format!("{document}\n"));
            0
        }
        Err(error) => {
            complain(&format!("the results cannot be written as JSON: {error}"));
            FAILED
        }
    }
}

/// Runs the script and asks; the exit code if something fails.
fn ask(session: &mut Session, arguments: &Arguments, text: &str) -> Result<Vec<Shown>, u8> {
    let name = arguments.script.display().to_string();
    let script = entered(session, &name, text)?;
    let described = script.standing.and_then(|standing| standing.variable);
    let Some(piece) = arguments.piece.clone().or(described) else {
        complain(
            "the script describes no piece; give one a name: `let jug = pack.piece(\"…\").saw(…);`",
        );
        return Err(USAGE);
    };
    let mut results = Vec::new();
    for question in arguments.questions(&piece) {
        let answer = entered(session, "what is asked", &question)?;
        results.extend(answer.value);
    }
    Ok(results)
}

fn entered(session: &mut Session, name: &str, text: &str) -> Result<Entered, u8> {
    let entered = session.enter_named(name, text);
    print_diagnostics(&entered.warnings, &session.sources());
    match entered.failure {
        None => Ok(entered),
        Some(ScriptFailure { cause, diagnostics }) => {
            print_diagnostics(&diagnostics, &session.sources());
            Err(match cause {
                Cause::Contradiction => FAILED,
                Cause::Pack => BAD_FILE,
                Cause::Script => SCRIPT_ERROR,
            })
        }
    }
}
