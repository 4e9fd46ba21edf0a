//! `saggar rules`: what law and record say of a registration, a wording or a feature.

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use saggar::check::rules;
use saggar::dating::registration::{Diamond, Registers, Sign};
use saggar::dating::rules::RuleBook;
use saggar::nearest_name::nearest;
use saggar::report::Shown;
use saggar::report::rules::{self as shown, RulesShown};
use saggar::source::Sources;

use super::{BAD_FILE, FAILED, complain, print_diagnostics, print_results};

/// What is asked, and of which rules.
#[derive(Args)]
pub struct Arguments {
    /// The rules file [default: priors/rules/termini.toml, here].
    #[arg(long, global = true, value_name = "FILE")]
    file: Option<PathBuf>,
    /// Print the answer as JSON.
    #[arg(long, global = true)]
    json: bool,
    #[command(subcommand)]
    question: Question,
}

#[derive(Subcommand)]
enum Question {
    /// Decode a British registration diamond, 1842–1883, from what stands in its corners.
    Diamond {
        /// Class in the ring above: I, II, III or IV.
        #[arg(long)]
        class: Option<String>,
        /// What stands at the top: a letter or a number.
        #[arg(long)]
        top: Option<Sign>,
        /// What stands on the right.
        #[arg(long)]
        right: Option<Sign>,
        /// What stands at the foot.
        #[arg(long)]
        bottom: Option<Sign>,
        /// What stands on the left.
        #[arg(long)]
        left: Option<Sign>,
        /// A year letter whose corner cannot be told.
        #[arg(long, value_name = "LETTER")]
        year_letter: Option<char>,
    },
    /// Find the year of a registered number, from 1884.
    Number {
        /// The number.
        number: u32,
    },
    /// Name the rules that a wording on the piece shows, and the years they leave.
    Wording {
        /// The wording, such as "Made in England".
        text: String,
    },
    /// Put several rules together by name: the years they leave, or their conflict.
    Found {
        /// Names of rules.
        #[arg(required = true)]
        rules: Vec<String>,
    },
    /// List every rule with its years and its source.
    List,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> u8 {
    let default = Path::new("priors/rules/termini.toml");
    let path = arguments.file.as_deref().unwrap_or(default);
    let (mut sources, mut found) = (Sources::default(), Vec::new());
    let book = rules::load(path, &mut sources, &mut found);
    print_diagnostics(&found, &sources);
    let Some(book) = book else {
        if arguments.file.is_none() && !default.is_file() {
            complain("name the rules file: --file FILE");
        }
        return BAD_FILE;
    };
    let answer = match answer(&arguments.question, &book) {
        Ok(answer) => Shown::Rules(answer),
        Err(message) => {
            complain(&message);
            return FAILED;
        }
    };
    print_results(&[answer], arguments.json)
}

fn answer(question: &Question, book: &RuleBook) -> Result<RulesShown, String> {
    match question {
        Question::Diamond {
            class,
            top,
            right,
            bottom,
            left,
            year_letter,
        } => {
            let diamond = Diamond {
                class: class.clone(),
                corners: [*top, *right, *bottom, *left],
                year_letter: year_letter.map(|letter| letter.to_ascii_uppercase()),
            };
            let registers = registers(book)?;
            let decoded = registers.diamond(&diamond).map_err(|e| e.to_string())?;
            Ok(shown::decoded(registers, decoded))
        }
        Question::Number { number } => {
            let registers = registers(book)?;
            let decoded = registers.number(*number).map_err(|e| e.to_string())?;
            Ok(shown::decoded(registers, decoded))
        }
        Question::Wording { text } => {
            let places = book.read(text);
            if places.is_empty() {
                return Err(format!(
                    "no rule speaks of the wording \"{text}\"; `saggar rules list` shows those that do"
                ));
            }
            Ok(shown::together(
                format!("wording \"{text}\""),
                book,
                &places,
            ))
        }
        Question::Found { rules } => {
            let mut places = Vec::new();
            for rule in rules {
                places.push(book.find(rule).ok_or_else(|| unknown(rule, book))?);
            }
            Ok(shown::together(rules.join(" + "), book, &places))
        }
        Question::List => {
            let all: Vec<usize> = (0..book.rules.len()).collect();
            Ok(shown::list(book, &all))
        }
    }
}

fn registers(book: &RuleBook) -> Result<&Registers, String> {
    book.registers.as_ref().ok_or_else(|| {
        format!(
            "the rules file `{}` has no [registration]; name another with --file",
            book.name
        )
    })
}

fn unknown(rule: &str, book: &RuleBook) -> String {
    match nearest(rule, book.rules.iter().map(|r| r.id.as_str())) {
        Some(near) => format!("there is no rule `{rule}`; did you mean `{near}`?"),
        None => format!("there is no rule `{rule}`; `saggar rules list` shows them"),
    }
}
