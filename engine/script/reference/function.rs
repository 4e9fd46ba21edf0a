//! A function of the language as the reference knows it.

/// A group of functions.
#[derive(Clone, Debug)]
pub struct Topic {
    /// Its heading.
    pub title: &'static str,
    /// What it is for.
    pub about: &'static str,
    /// Its functions by name, the form with fewest parameters first.
    pub functions: Vec<Function>,
}

/// One form of a function, property or operator.
#[derive(Clone, Debug, PartialEq)]
pub struct Function {
    /// Its name.
    pub name: String,
    /// How it is called.
    pub call: Call,
    /// Name and type of each parameter, the value before the dot included; types in words.
    pub parameters: Vec<(String, String)>,
    /// Type of what comes back, in words; empty for nothing.
    pub gives: String,
    /// What it does, in Markdown, without the examples behind it.
    pub text: String,
    /// Scripts that call it, which run after the [`SUPPOSED`] lines.
    pub examples: Vec<String>,
}

/// How a function is called.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Call {
    /// `name(…)`.
    Function,
    /// `value.name(…)`.
    Method,
    /// `value.name`.
    Property,
    /// `one + other`.
    Operator,
}

impl Function {
    /// How it is written, with types in words: `piece.saw(clue: text, state: text or number) -> piece`.
    #[must_use]
    pub fn signature(&self) -> String {
        let receiver = self
            .parameters
            .first()
            .map_or("", |(_, kind)| kind.as_str());
        let shown = |(name, kind): &(String, String)| match (name.as_str(), kind.as_str()) {
            ("", kind) => kind.to_owned(),
            (name, kind) if name == kind => name.to_owned(),
            (name, kind) => format!("{name}: {kind}"),
        };
        let listed = |parameters: &[(String, String)]| {
            parameters.iter().map(shown).collect::<Vec<_>>().join(", ")
        };
        let written = match self.call {
            Call::Function => format!("{}({})", self.name, listed(&self.parameters)),
            Call::Method => format!(
                "{receiver}.{}({})",
                self.name,
                listed(&self.parameters[1..])
            ),
            Call::Property => format!("{receiver}.{}", self.name),
            Call::Operator => {
                let kinds: Vec<&str> = self.parameters.iter().map(|(_, k)| k.as_str()).collect();
                kinds.join(&format!(" {} ", self.name))
            }
        };
        if self.gives.is_empty() {
            written
        } else {
            format!("{written} -> {}", self.gives)
        }
    }
}
