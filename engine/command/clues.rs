//! `saggar clues`: what can be noted of a piece, and the words for it.

use std::path::Path;

use saggar::model::{ClueKind, Model};
use saggar::source::Sources;

use super::{BAD_FILE, print_diagnostics, read, say};

/// Runs the command.
pub(super) fn run(folder: &Path) -> u8 {
    let mut sources = Sources::default();
    let mut found = Vec::new();
    match read(folder, &mut sources, &mut found) {
        Ok(Some(model)) => {
            say(&clues(&model));
            0
        }
        Ok(None) => {
            print_diagnostics(&found, &sources);
            BAD_FILE
        }
        Err(code) => code,
    }
}

/// The clues with their states, ready to be copied into a script.
fn clues(model: &Model) -> String {
    let mut out = format!("{}: what can be noted of a piece\n", model.name);
    for clue in &model.catalogue.clues {
        out += &format!("\n{} ({})\n", clue.id, clue.name);
        if let Some(look) = &clue.look {
            out += &format!("    how to look: {look}\n");
        }
        match &clue.kind {
            ClueKind::Together { columns } => {
                let names: Vec<String> = columns.iter().map(|c| format!("\"{c}\": …")).collect();
                out += &format!(
                    "    measured(\"{}\", #{{ {} }})\n",
                    clue.id,
                    names.join(", ")
                );
            }
            ClueKind::Weight { .. } => out += "    weighs(\"… g\")\n",
            ClueKind::Colour => {
                out += &format!("    measured(\"{}\", #{{ L: …, a: …, b: … }})\n", clue.id);
            }
            ClueKind::Date => out += &format!("    dated(\"{}\", \"1846~\")\n", clue.id),
            ClueKind::Rule { book, rule } => {
                let rule = &model.catalogue.rules[*book].rules[*rule];
                out += &format!("    found(\"{}\")    {}\n", rule.id, rule.term);
            }
            ClueKind::Registration { .. } => {
                out += "    registration(141273) | registration(#{ class: \"IV\", top: \"D\", right: 14, left: \"B\" })\n";
            }
            _ => out += &format!("    {}\n", clue.states.join(" | ")),
        }
        if let (ClueKind::Mark, Some(lettering)) = (&clue.kind, &model.lettering) {
            out += &format!(
                "    or letter by letter: mark_fragment(\"…\", #{{ strike: \"clear\", devices: [\"…\"] }})\n        of: {}\n",
                lettering.things.join(", ")
            );
        }
        if let Some(absent) = clue.absent {
            out += &format!(
                "    absent(\"{}\") means: {}\n",
                clue.id, clue.states[absent]
            );
        }
    }
    out += &observers(model);
    out
}

/// Who codes, and what; nothing for a pack that does not tell observers apart.
fn observers(model: &Model) -> String {
    let catalogue = &model.catalogue;
    let mut out = String::new();
    for (index, observer) in catalogue.observers.iter().enumerate() {
        if index == 0 {
            out += "\nobservers: looking(#{ who: \"…\" })\n";
        }
        let default = if catalogue.default_observer == Some(index) {
            ", whose the findings are that name nobody"
        } else {
            ""
        };
        let read = observer
            .readings
            .keys()
            .map(|&clue| catalogue.clues[clue].id.as_str());
        let read: Vec<&str> = read.collect();
        let rest = if observer.as_the_tables_say {
            "as the tables say"
        } else {
            "not asked"
        };
        out += &format!(
            "    {} ({}{default}): a reliability for {}; other clues {rest}\n",
            observer.id,
            observer.name,
            if read.is_empty() {
                "none".to_owned()
            } else {
                read.join(", ")
            },
        );
    }
    out
}
