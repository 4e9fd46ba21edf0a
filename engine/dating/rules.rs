//! Rules of law and record: features of a piece that date it, with their sources.

use super::registration::Registers;
use super::terminus::Term;

/// What stands wherever a reader could take a rule for more than it is. Common practice of the trade.
pub const CAUTION: &str = "These are aids to dating, from statutes and published tables as cited; they are no legal advice, and a source marked from memory or one source should be confirmed before anything rests on it.";

/// One rule.
#[derive(Clone, Debug)]
pub struct Rule {
    /// Short name.
    pub id: String,
    /// The feature in words.
    pub name: String,
    /// What kind of feature: wording of a mark, body, decoration.
    pub feature: String,
    /// Wordings that show it, as words in lower case; any of them does.
    pub reads: Vec<Vec<String>>,
    /// Wordings beside which it does not apply.
    pub unless: Vec<Vec<String>>,
    /// What it says about the year of making.
    pub term: Term,
    /// How many times as likely the feature is in a year outside a usual limit as in one inside.
    pub exceptions: f64,
    /// Statute, table or study it rests on.
    pub source: String,
    /// How far the source was checked, if said.
    pub checked: Option<String>,
    /// What else should be known.
    pub note: Option<String>,
}

/// The rules of one file.
#[derive(Clone, Debug)]
pub struct RuleBook {
    /// Name of the file without its ending.
    pub name: String,
    /// The rules, in the order of the file.
    pub rules: Vec<Rule>,
    /// Registers of designs, if it has any.
    pub registers: Option<Registers>,
}

impl Rule {
    /// The source, and how far it was checked.
    #[must_use]
    pub fn source_checked(&self) -> String {
        match &self.checked {
            Some(checked) => format!("{} [{checked}]", self.source),
            None => self.source.clone(),
        }
    }
}

impl RuleBook {
    /// The rules that a wording shows, by position. Case, points and hyphens do not count.
    ///
    /// A rule applies if one of its wordings stands in `wording` as whole words in a row, and none of those it excepts does.
    #[must_use]
    pub fn read(&self, wording: &str) -> Vec<usize> {
        let wording = words(wording);
        let holds = |phrase: &Vec<String>| {
            !phrase.is_empty() && wording.windows(phrase.len()).any(|part| part == phrase)
        };
        self.rules
            .iter()
            .enumerate()
            .filter(|(_, rule)| rule.reads.iter().any(holds) && !rule.unless.iter().any(holds))
            .map(|(place, _)| place)
            .collect()
    }

    /// The rule of a name, by position.
    #[must_use]
    pub fn find(&self, id: &str) -> Option<usize> {
        self.rules.iter().position(|rule| rule.id == id)
    }
}

/// The words of a wording, in lower case.
#[must_use]
pub fn words(text: &str) -> Vec<String> {
    text.split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(str::to_lowercase)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rule(id: &str, reads: &[&str], unless: &[&str]) -> Rule {
        Rule {
            id: id.to_owned(),
            name: String::new(),
            feature: String::new(),
            reads: reads.iter().map(|r| words(r)).collect(),
            unless: unless.iter().map(|r| words(r)).collect(),
            term: Term::default(),
            exceptions: 0.0,
            source: String::new(),
            checked: None,
            note: None,
        }
    }

    #[test]
    fn wordings_are_read_as_words() {
        let book = RuleBook {
            name: String::new(),
            rules: vec![
                rule("country", &["England"], &["Made in"]),
                rule("made in", &["Made in"], &[]),
                rule("limited", &["Limited", "Ltd"], &[]),
                rule("nothing", &[], &[]),
            ],
            registers: None,
        };
        assert_eq!(book.read("ENGLAND"), [0]);
        assert_eq!(book.read("Made in England"), [1]);
        assert_eq!(book.read("Vint & Sons, Ltd. England"), [0, 2]);
        assert_eq!(book.read("New Englander"), Vec::<usize>::new());
        assert_eq!(book.read(""), Vec::<usize>::new());
    }
}
