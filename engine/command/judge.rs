//! `saggar judge`: asks of the piece that a script describes, without a line added to the script.

use clap::Args;
use saggar::report::Shown;
use saggar::script::{self, Entered, Session};
use saggar::source::Sources;

use super::script_options::ScriptOptions;
use super::{
    BAD_FILE, FAILED, USAGE, complain, print_diagnostics, print_results, start_threads, told,
};

#[derive(Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    options: ScriptOptions,
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
    /// Standard error at which a stress run may stop.
    #[arg(long, value_name = "ERROR")]
    error_below: Option<f64>,
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
    let options = &arguments.options;
    if !start_threads(options.threads) {
        return FAILED;
    }
    let mut sources = Sources::default();
    let text = match sources.read(&options.script) {
        Ok(source) => sources.file(source).text.clone(),
        Err(error) => {
            complain(&error.to_string());
            return BAD_FILE;
        }
    };
    let asked = |session: &mut Session| ask(session, arguments, &text);
    // What the script shows is its own business; what is asked here comes back as values.
    let session = script::with_session(options.settings(), |_| {}, asked);
    match session {
        Err(error) => {
            complain(&format!("the script cannot be started: {error}"));
            FAILED
        }
        Ok(Err(code)) => code,
        Ok(Ok(results)) => print_results(&results, options.json),
    }
}

/// Runs the script and asks; the exit code if something fails.
fn ask(session: &mut Session, arguments: &Arguments, text: &str) -> Result<Vec<Shown>, u8> {
    let name = arguments.options.script.display().to_string();
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
    match &entered.failure {
        None => Ok(entered),
        Some(failure) => Err(told(failure, &session.sources())),
    }
}
