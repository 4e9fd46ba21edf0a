//! Why a finding was not taken into the record.

use crate::dating::registration::RegistrationError;
use crate::dating::{EdtfError, OutsidePeriods};
use crate::model::NoteError;
use crate::source::Place;

/// Why a note was refused.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PieceError {
    /// No such clue.
    #[error("there is no clue `{name}` in this pack{}", suggestion(nearest.as_deref(), known))]
    UnknownClue {
        /// What was written.
        name: String,
        /// The nearest known name.
        nearest: Option<String>,
        /// Known names, for a hint.
        known: Vec<String>,
    },
    /// The clue has no such state.
    #[error("`{state}` is not a state of `{clue}`{}", suggestion(nearest.as_deref(), known))]
    UnknownState {
        /// The clue.
        clue: String,
        /// What was written.
        state: String,
        /// The nearest known state.
        nearest: Option<String>,
        /// Known states, for a hint.
        known: Vec<String>,
    },
    /// The clue is already noted.
    #[error(
        "`{clue}` is already noted as {said}; a second look replaces the first: use look_again"
    )]
    AlreadyNoted {
        /// The clue.
        clue: String,
        /// The first finding.
        said: String,
        /// Where it was written down.
        entered_at: Option<Place>,
    },
    /// The clue is noted with another finding.
    #[error(
        "`{clue}` is noted as {first} and now as {second}, and a piece is only one of them; if the second look is the better one it replaces the first: use look_again; if another observer coded it without knowing the first: use blind"
    )]
    Contradicts {
        /// The clue.
        clue: String,
        /// The first finding.
        first: String,
        /// The second.
        second: String,
        /// Where the first was written down.
        entered_at: Option<Place>,
    },
    /// Something is wrong with who, when, light, tool or cleaning.
    #[error("{what}")]
    HowSeen {
        /// What is wrong, and how to mend it.
        what: String,
    },
    /// A second look that is older than the first.
    #[error(
        "the second look at `{clue}` is dated {second} and the first {first}; the later look replaces the earlier one: mend the date, or note them the other way round"
    )]
    EarlierThanFirst {
        /// The clue.
        clue: String,
        /// Date of the first look.
        first: String,
        /// Date of the second.
        second: String,
    },
    /// No such observer.
    #[error("there is no observer `{name}` in this pack{}", suggestion(nearest.as_deref(), known))]
    UnknownObserver {
        /// What was written.
        name: String,
        /// The nearest known name.
        nearest: Option<String>,
        /// Known names.
        known: Vec<String>,
    },
    /// The pack does not say how reliable the observer is on this clue.
    #[error(
        "nothing says how well `{observer}` reads `{clue}`; add the clue to what the observer reads in observers.toml"
    )]
    NotAsked {
        /// The observer.
        observer: String,
        /// The clue.
        clue: String,
    },
    /// A blind coding that cannot be weighed.
    #[error("a blind coding of `{clue}` cannot be weighed: {why}")]
    BlindAlone {
        /// The clue.
        clue: String,
        /// Why, and how to mend it.
        why: String,
    },
    /// A stated belief that is none.
    #[error("the stated belief about `{clue}` {what}")]
    Beliefs {
        /// The clue.
        clue: String,
        /// What is wrong.
        what: String,
    },
    /// No such size class.
    #[error("there is no size class `{name}` in this pack{}", suggestion(nearest.as_deref(), known))]
    UnknownSizeClass {
        /// What was written.
        name: String,
        /// The nearest known name.
        nearest: Option<String>,
        /// Known names.
        known: Vec<String>,
    },
    /// Only codings of the print are made for a size class.
    #[error("`{clue}` is no coding of the print and is the same in every size class; use saw")]
    NotACoding {
        /// The clue.
        clue: String,
    },
    /// A coding made for another size class.
    #[error(
        "`{clue}` is coded for {coded_for} pieces, and this one is of size {size} ({size_class}): every size class has engravings of its own, so the likeness says little; code it again for {size_class} pieces, or say that it is a loose comparison: coded_loosely"
    )]
    OtherSizeClass {
        /// The coding.
        clue: String,
        /// The class it was made for.
        coded_for: String,
        /// The piece's size as noted.
        size: String,
        /// The piece's class.
        size_class: String,
    },
    /// A second look without a first.
    #[error("`{clue}` has not been noted yet, so nothing can be looked at again: use saw")]
    NotNoted {
        /// The clue.
        clue: String,
    },
    /// The clue has no state that means: looked, and there was nothing.
    #[error("the pack does not say which state of `{clue}` means that there was nothing; use saw with one of: {}", known.join(", "))]
    NoAbsentState {
        /// The clue.
        clue: String,
        /// Known states.
        known: Vec<String>,
    },
    /// Likelihoods that are none.
    #[error("the weights of `{clue}` {what}")]
    Weights {
        /// The clue.
        clue: String,
        /// What is wrong.
        what: String,
    },
    /// A circumstance must be known for sure.
    #[error("`{clue}` is a circumstance of the look and needs one state for sure")]
    UncertainCircumstance {
        /// The clue.
        clue: String,
    },
    /// A weight for a clue that is not one.
    #[error("`{clue}` is not judged by weighing; its states are: {}", known.join(", "))]
    NotAWeight {
        /// The clue.
        clue: String,
        /// Its states.
        known: Vec<String>,
    },
    /// A state for a clue that is measured.
    #[error("`{clue}` is measured: note a weight, such as weighs(\"1345 g\")")]
    Measured {
        /// The clue.
        clue: String,
    },
    /// The pack does not say how lettering is read.
    #[error(
        "this pack does not say how the letters of a mark are read; give it a lettering.toml and its marks a `text`, or note the \
         mark by one of the pack's own readings: saw(\"mark\", …)"
    )]
    NoLettering,
    /// A fragment that the pack cannot score.
    #[error(transparent)]
    Fragment(#[from] NoteError),
    /// A state for a clue that a rule, a date or a registration gives.
    #[error("`{clue}` has no states; note it with {with}")]
    NoStates {
        /// The clue.
        clue: String,
        /// How it is noted.
        with: String,
    },
    /// A date for a clue that takes none.
    #[error("`{clue}` takes no date; the clues that do: {}", if known.is_empty() { "none in this pack" } else { known })]
    NotADate {
        /// The clue.
        clue: String,
        /// The clues of kind date.
        known: String,
    },
    /// Not a date.
    #[error("{}; {}", .0, .0.remedy())]
    Date(#[from] EdtfError),
    /// A date that no period covers.
    #[error(transparent)]
    Outside(#[from] OutsidePeriods),
    /// A rule that the pack does not include.
    #[error(
        "no rule `{rule}` is included in this pack{}",
        if known.is_empty() {
            "; it includes none: `rules = [\"termini\"]` in pack.toml includes those of law and record".to_owned()
        } else {
            suggestion(nearest.as_deref(), known)
        }
    )]
    UnknownRule {
        /// What was written.
        rule: String,
        /// The nearest known rule.
        nearest: Option<String>,
        /// Known rules.
        known: Vec<String>,
    },
    /// A wording that no rule reads.
    #[error(
        "no rule of this pack speaks of the wording `{wording}`; `saggar rules list` shows those that do, and found(\"…\") notes a rule by its name"
    )]
    UnknownWording {
        /// What was written.
        wording: String,
    },
    /// The pack includes no registers.
    #[error(
        "this pack includes no registers of designs; name a rules file that has them in `rules` of its pack.toml"
    )]
    NoRegisters,
    /// A registration that cannot be decoded.
    #[error(transparent)]
    Registration(#[from] RegistrationError),
    /// A state for a clue of many numbers.
    #[error(
        "`{clue}` is measured: note its numbers, such as measured(\"{clue}\", #{{ \"…\": 1.5 }})"
    )]
    MeasuredTogether {
        /// The clue.
        clue: String,
    },
    /// Numbers for a clue that is not measured so.
    #[error("`{clue}` is not a set of numbers measured together; note it with saw or weighs")]
    NotMeasuredTogether {
        /// The clue.
        clue: String,
    },
    /// Numbers so far out that no maker can be told from another.
    #[error(
        "the numbers of `{clue}` lie so far from every maker's that nothing can be computed from them; look for a slip of the point or the unit"
    )]
    BeyondMeasure {
        /// The clue.
        clue: String,
    },
    /// A state for a clue that is measured as a colour.
    #[error(
        "`{clue}` is a measured colour; note it so: measured(\"{clue}\", #{{ L: 88.1, a: -2.0, b: 1.3 }})"
    )]
    MeasuredColour {
        /// The clue.
        clue: String,
    },
    /// A colour for a clue that is not one.
    #[error("`{clue}` is not measured as a colour; its states are: {}", known.join(", "))]
    NotAColour {
        /// The clue.
        clue: String,
        /// Its states.
        known: Vec<String>,
    },
    /// Numbers that are no colour.
    #[error(
        "the colour of `{clue}` cannot be read: {what}; write #{{ L: 88.1, a: -2.0, b: 1.3 }}, #{{ L: 88.1, C: 2.4, h: 147.0 }} or #{{ X: 0.70, Y: 0.73, Z: 0.59, white: \"D50\" }}"
    )]
    Colour {
        /// The clue.
        clue: String,
        /// What is wrong.
        what: String,
    },
    /// The pack has no weight clue.
    #[error("this pack does not judge by weight")]
    NoWeightClue,
    /// The pack has no grades of condition.
    #[error(
        "this pack has no grades of condition; list them as [[grade]] in a file market.toml beside its priors"
    )]
    NoGrades,
    /// A grade that is not on the pack's scale.
    #[error("there is no grade {grade} of condition; known: {}", known.join(", "))]
    UnknownGrade {
        /// What was written.
        grade: i64,
        /// The scale.
        known: Vec<String>,
    },
    /// The condition is noted already.
    #[error(
        "the condition is already noted as {said}; note it once, or begin the variant from the piece before"
    )]
    ConditionNoted {
        /// As it was noted.
        said: String,
    },
    /// A weight that can only be a slip.
    #[error(
        "{said} would be {judged:.4} {unit}, and this pack speaks of weights from {least:.3} to {most:.3}; is the unit right, and the size?"
    )]
    WeightFar {
        /// As noted.
        said: String,
        /// As it is judged.
        judged: f64,
        /// What that is counted in.
        unit: &'static str,
        /// The least that the pack speaks of.
        least: f64,
        /// The most.
        most: f64,
    },
    /// The weight cannot be judged yet.
    #[error("the weight cannot be judged: {what}")]
    WeightNeeds {
        /// What is missing.
        what: String,
    },
}

fn suggestion(nearest: Option<&str>, known: &[String]) -> String {
    match nearest {
        Some(name) => format!("; did you mean `{name}`?"),
        None if known.is_empty() => "; the pack has none".to_owned(),
        // Names may hold commas.
        None => format!("; known: {}", known.join(" | ")),
    }
}
