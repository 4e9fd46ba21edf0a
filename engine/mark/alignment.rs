//! P(fragment | lettering, strike): a pair hidden Markov model of a mark and what is read of it.
//!
//! How a reading comes about, from left to right, for letters 1 … n of the mark:
//!
//! 1. In the *place* before each letter and in the one after the last: with chance *gap noted* the reader writes `?`
//!    where nothing is lost; then, with chance *inserted*, a character that is none is read, each as common as in the
//!    registry, and the place begins again.
//! 2. A *stop* (a full stop, a hyphen …) is passed over with chance *stop passed over*, and that is all that comes of it.
//! 3. Any other letter is lost with chance *loss begins* if the one before it was not lost, *loss goes on* if it was. A run
//!    of lost letters is noted as `?` with chance *loss noted*, decided once for the run; else nothing is written.
//! 4. A letter that is not lost is read: as another with chance *misread* (which one: its look-alikes), else as itself.
//! 5. `?` beside `?` is one `?`.
//!
//! Every step's chances sum to 1 and the story ends with certainty, so the chances of all fragments (strings of
//! characters and `?`, no two `?` together) sum to 1 under every mark, short or long. A letter in doubt is the event that
//! a sharp reading would have been any of its alternatives: their chances add.
//!
//! The sum over all alignments is the forward algorithm, the best one Viterbi's, both linear in mark × fragment.
//!
//! Source: Durbin, Eddy, Krogh & Mitchison 1998, *Biological Sequence Analysis*, ch. 4 (pair HMMs: sec. 4.1 Viterbi,
//! sec. 4.2 the full probability by summing over alignments), with the runs of sec. 2.3 (affine gaps). The `?` and the
//! places are our own.

use super::lettering::{Encoded, Letter, Lettering, Reading};
use super::strike::StrikeChances;

/// Below this a sum in plain numbers may have lost terms to underflow, and is taken again in logarithms: every term lost
/// is below the least normal number, 2e-308, and there are less than 1e5 of them.
const LEAST_PLAIN: f64 = 1e-280;

/// Whether the letter just handled was lost, and if so whether its run is noted.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Run {
    Struck,
    Noted,
    Unnoted,
}

const RUNS: [Run; 3] = [Run::Struck, Run::Noted, Run::Unnoted];

/// What one step of the story did, for display.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Step {
    Nothing,
    GapWritten,
    Inserted,
    PassedOver,
    Lost { writes_gap: bool, noted: bool },
    Read,
}

/// The lattice of one mark against one fragment.
struct Lattice<'a> {
    letters: &'a [Letter],
    lengths: &'a [f64],
    is_gap: Vec<bool>,
    inserted_as: Vec<f64>,
    chances: &'a StrikeChances,
}

/// How far the story has come.
#[derive(Clone, Copy, PartialEq, Eq)]
struct Node {
    /// Letters handled.
    letter: usize,
    /// Tokens written.
    token: usize,
    /// Whether it is decided if a `?` is noted in this place.
    inside: bool,
    run: Run,
}

enum Next {
    To(Node),
    End,
}

impl Lattice<'_> {
    fn n_nodes(&self) -> usize {
        (self.letters.len() + 1) * 2 * (self.is_gap.len() + 1) * RUNS.len()
    }

    fn index(&self, node: Node) -> usize {
        ((node.letter * (self.is_gap.len() + 1) + node.token) * 2 + usize::from(node.inside))
            * RUNS.len()
            + node.run as usize
    }

    /// All nodes, each after those that lead to it.
    fn nodes(&self) -> impl Iterator<Item = Node> + use<> {
        let n_tokens = self.is_gap.len();
        (0..=self.letters.len()).flat_map(move |letter| {
            (0..=n_tokens).flat_map(move |token| {
                [false, true].into_iter().flat_map(move |inside| {
                    RUNS.map(|run| Node {
                        letter,
                        token,
                        inside,
                        run,
                    })
                })
            })
        })
    }

    /// Tokens written once a `?` is added: none more if the last is one already; `None` if the next token is no gap.
    fn after_gap(&self, token: usize) -> Option<usize> {
        if token > 0 && self.is_gap[token - 1] {
            Some(token)
        } else {
            (self.is_gap.get(token) == Some(&true)).then_some(token + 1)
        }
    }

    /// Calls `visit` with every step out of a node that can still lead to the fragment, with its chance.
    fn steps(&self, node: Node, mut visit: impl FnMut(Next, Step, f64)) {
        let c = self.chances;
        let Node {
            letter,
            inside,
            token,
            run,
        } = node;
        if !inside {
            let inside = |token| {
                Next::To(Node {
                    inside: true,
                    token,
                    ..node
                })
            };
            visit(inside(token), Step::Nothing, 1.0 - c.gap_noted);
            if let Some(after) = self.after_gap(token) {
                let step = if after > token {
                    Step::GapWritten
                } else {
                    Step::Nothing
                };
                visit(inside(after), step, c.gap_noted);
            }
            return;
        }
        if token < self.is_gap.len() && !self.is_gap[token] {
            let next = Next::To(Node {
                token: token + 1,
                inside: false,
                ..node
            });
            visit(next, Step::Inserted, c.inserted * self.inserted_as[token]);
        }
        let leave = 1.0 - c.inserted;
        if token == self.is_gap.len() && self.lengths[letter] > 0.0 {
            visit(Next::End, Step::Nothing, leave * self.lengths[letter]);
        }
        let Some(mark) = self.letters.get(letter) else {
            return;
        };
        let to = |token, run| {
            Next::To(Node {
                letter: letter + 1,
                inside: false,
                token,
                run,
            })
        };
        visit(to(token, run), Step::PassedOver, leave * mark.passed_over);
        let (struck, noted, unnoted) = match run {
            Run::Struck => (
                1.0 - c.loss_begins,
                c.loss_begins * c.loss_noted,
                c.loss_begins * (1.0 - c.loss_noted),
            ),
            Run::Noted => (1.0 - c.loss_goes_on, c.loss_goes_on, 0.0),
            Run::Unnoted => (1.0 - c.loss_goes_on, 0.0, c.loss_goes_on),
        };
        if token < self.is_gap.len() && !self.is_gap[token] {
            visit(
                to(token + 1, Run::Struck),
                Step::Read,
                leave * struck * mark.read_as[token],
            );
        }
        if let Some(after) = self.after_gap(token) {
            let step = Step::Lost {
                writes_gap: after > token,
                noted: true,
            };
            visit(to(after, Run::Noted), step, leave * mark.kept * noted);
        }
        let step = Step::Lost {
            writes_gap: false,
            noted: false,
        };
        visit(to(token, Run::Unnoted), step, leave * mark.kept * unnoted);
    }

    const START: Node = Node {
        letter: 0,
        inside: false,
        token: 0,
        run: Run::Struck,
    };

    /// The forward algorithm in plain numbers.
    fn forward(&self) -> f64 {
        let mut reached = vec![0.0; self.n_nodes()];
        reached[self.index(Self::START)] = 1.0;
        let mut total = 0.0;
        for node in self.nodes() {
            let here = reached[self.index(node)];
            if here > 0.0 {
                self.steps(node, |next, _, chance| match next {
                    Next::To(next) => reached[self.index(next)] += here * chance,
                    Next::End => total += here * chance,
                });
            }
        }
        total
    }

    /// The same in logarithms, for what plain numbers cannot hold.
    fn ln_forward(&self) -> f64 {
        let mut reached = vec![f64::NEG_INFINITY; self.n_nodes()];
        reached[self.index(Self::START)] = 0.0;
        let mut total = f64::NEG_INFINITY;
        for node in self.nodes() {
            let here = reached[self.index(node)];
            if here > f64::NEG_INFINITY {
                self.steps(node, |next, _, chance| {
                    let ln_p = here + chance.ln();
                    let sum = match next {
                        Next::To(next) => &mut reached[self.index(next)],
                        Next::End => &mut total,
                    };
                    *sum = ln_add(*sum, ln_p);
                });
            }
        }
        total
    }

    /// The most probable way through, as steps with the node each starts from, and the logarithm of its chance; `None` if
    /// there is no way.
    fn viterbi(&self) -> Option<(Vec<(Node, Step)>, f64)> {
        let mut best = vec![f64::NEG_INFINITY; self.n_nodes()];
        let mut came_from: Vec<Option<(Node, Step)>> = vec![None; self.n_nodes()];
        best[self.index(Self::START)] = 0.0;
        let mut end: Option<(Node, f64)> = None;
        for node in self.nodes() {
            let here = best[self.index(node)];
            if here == f64::NEG_INFINITY {
                continue;
            }
            self.steps(node, |next, step, chance| {
                let ln_p = here + chance.ln();
                match next {
                    Next::To(next) if ln_p > best[self.index(next)] => {
                        best[self.index(next)] = ln_p;
                        came_from[self.index(next)] = Some((node, step));
                    }
                    Next::End if end.is_none_or(|(_, best)| ln_p > best) => {
                        end = Some((node, ln_p));
                    }
                    _ => {}
                }
            });
        }
        let (mut node, ln_p) = end.filter(|(_, ln_p)| *ln_p > f64::NEG_INFINITY)?;
        let mut steps = Vec::new();
        while let Some((from, step)) = came_from[self.index(node)] {
            steps.push((from, step));
            node = from;
        }
        steps.reverse();
        Some((steps, ln_p))
    }
}

/// ln(eᵃ + eᵇ).
pub(super) fn ln_add(a: f64, b: f64) -> f64 {
    let (more, less) = if a >= b { (a, b) } else { (b, a) };
    if less == f64::NEG_INFINITY {
        more
    } else {
        more + (less - more).exp().ln_1p()
    }
}

fn with_lattice<T>(
    reading: &Reading,
    lettering: &Lettering,
    fragment: &Encoded,
    chances: &StrikeChances,
    ask: impl FnOnce(&Lattice<'_>) -> T,
) -> T {
    let (letters, lengths) = reading.letters(lettering, fragment, chances);
    ask(&Lattice {
        letters: &letters,
        lengths: &lengths,
        is_gap: fragment.tokens.iter().map(Option::is_none).collect(),
        inserted_as: reading.inserted_as(fragment),
        chances,
    })
}

/// The natural logarithm of P(fragment | lettering, strike), summed over all alignments; minus infinity if the chances
/// make it impossible.
///
/// `lettering` and `fragment` must be in terms of `reading`.
///
/// ```
/// use saggar::mark::{Fragment, Reading, StrikeChances, ln_probability};
/// let reading = Reading::of_texts(["T & U", "T Q & U"]);
/// let chances = StrikeChances {
///     loss_begins: 0.2, loss_goes_on: 0.7, loss_noted: 0.8, misread: 0.05, inserted: 0.005, gap_noted: 0.1,
///     stop_passed_over: 0.5,
/// };
/// let read = reading.encode(&Fragment::parse("T?U")?)?;
/// let ln_p = |text| ln_probability(&reading, &reading.lettering(text).unwrap(), &read, &chances);
/// // With a Q more there is more to be lost, in one run.
/// assert!(ln_p("T Q & U") < ln_p("T & U") && ln_p("T Q & U") > ln_p("W & Co"));
/// # Ok::<(), saggar::mark::FragmentError>(())
/// ```
#[must_use]
pub fn ln_probability(
    reading: &Reading,
    lettering: &Lettering,
    fragment: &Encoded,
    chances: &StrikeChances,
) -> f64 {
    with_lattice(reading, lettering, fragment, chances, |lattice| {
        let plain = lattice.forward();
        if plain > LEAST_PLAIN {
            plain.ln()
        } else {
            lattice.ln_forward()
        }
    })
}

/// One column of an alignment. Letters of the mark and tokens of the fragment are given by position.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Aligned {
    /// A letter of the mark, and the token it was read as.
    Read {
        /// Letter of the mark.
        letter: usize,
        /// Token of the fragment.
        token: usize,
    },
    /// A letter of the mark that was lost; with the `?` it is written as if it is the first of its run.
    Lost {
        /// Letter of the mark.
        letter: usize,
        /// The `?`, where it begins.
        token: Option<usize>,
        /// Whether its run is noted as a `?`.
        noted: bool,
    },
    /// A stop of the mark that was passed over.
    PassedOver {
        /// Letter of the mark.
        letter: usize,
    },
    /// A token that answers to nothing in the mark.
    Inserted {
        /// Token of the fragment: a letter, or a `?` where nothing is lost.
        token: usize,
    },
}

/// The most probable single way in which a mark came to be read as a fragment.
#[derive(Clone, Debug, PartialEq)]
pub struct Alignment {
    /// From left to right.
    pub columns: Vec<Aligned>,
    /// Natural logarithm of its chance; at most that of all alignments together.
    pub ln_p: f64,
}

/// The most probable alignment; `None` if the chances make every one impossible. Of equals the first found, which is
/// always the same.
#[must_use]
pub fn best_alignment(
    reading: &Reading,
    lettering: &Lettering,
    fragment: &Encoded,
    chances: &StrikeChances,
) -> Option<Alignment> {
    let (steps, ln_p) = with_lattice(reading, lettering, fragment, chances, |lattice| {
        lattice.viterbi()
    })?;
    let column = |(from, step): (Node, Step)| {
        let Node { letter, token, .. } = from;
        Some(match step {
            Step::Nothing => return None,
            Step::GapWritten | Step::Inserted => Aligned::Inserted { token },
            Step::PassedOver => Aligned::PassedOver { letter },
            Step::Lost { writes_gap, noted } => Aligned::Lost {
                letter,
                token: writes_gap.then_some(token),
                noted,
            },
            Step::Read => Aligned::Read { letter, token },
        })
    };
    Some(Alignment {
        columns: steps.into_iter().filter_map(column).collect(),
        ln_p,
    })
}
