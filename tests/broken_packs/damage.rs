//! Whatever happens to the bytes of a pack, nothing panics.

use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};

use crate::case::{check_folder, demo_files};

/// One accident to the bytes of a file; positions are taken modulo its length.
#[derive(Clone, Debug)]
enum Accident {
    Delete {
        at: usize,
        n: usize,
    },
    Insert {
        at: usize,
        bytes: Vec<u8>,
    },
    Overwrite {
        at: usize,
        byte: u8,
    },
    Swap {
        at: usize,
        with: usize,
    },
    /// A stretch of the file moves elsewhere, as when a line is pasted in the wrong place.
    Paste {
        from: usize,
        n: usize,
        at: usize,
    },
}

impl Accident {
    fn strategy() -> impl Strategy<Value = Self> {
        let at = any::<usize>();
        // Bytes that mean something to the grammar meet it more often than noise does.
        let byte = prop_oneof![
            any::<u8>(),
            prop::sample::select(b"\"'[]{}=,.#%:/-+_0139eE \n\xc3\xa9".to_vec()),
        ];
        prop_oneof![
            (at, 1..40_usize).prop_map(|(at, n)| Self::Delete { at, n }),
            (at, prop::collection::vec(byte.clone(), 1..8))
                .prop_map(|(at, bytes)| Self::Insert { at, bytes }),
            (at, byte).prop_map(|(at, byte)| Self::Overwrite { at, byte }),
            (at, at).prop_map(|(at, with)| Self::Swap { at, with }),
            (at, 1..200_usize, at).prop_map(|(from, n, at)| Self::Paste { from, n, at }),
        ]
    }

    fn happen(&self, text: &mut Vec<u8>) {
        let length = text.len();
        if length == 0 {
            return;
        }
        match self {
            Self::Delete { at, n } => {
                let at = at % length;
                text.drain(at..length.min(at + n));
            }
            Self::Insert { at, bytes } => {
                let at = at % length;
                text.splice(at..at, bytes.iter().copied());
            }
            Self::Overwrite { at, byte } => text[at % length] = *byte,
            Self::Swap { at, with } => text.swap(at % length, with % length),
            Self::Paste { from, n, at } => {
                let from = from % length;
                let stretch = text[from..length.min(from + n)].to_vec();
                let at = at % length;
                text.splice(at..at, stretch);
            }
        }
    }
}

/// Checks the demo pack with some of its files changed.
fn check_changed(change: impl Fn(usize, &mut Vec<u8>)) {
    let temporary = tempfile::tempdir().unwrap();
    for (index, (name, mut bytes)) in demo_files().into_iter().enumerate() {
        change(index, &mut bytes);
        std::fs::write(temporary.path().join(name), bytes).unwrap();
    }
    let said = check_folder(temporary.path());
    let errors = saggar::diagnostic::has_errors(&said.diagnostics);
    assert_eq!(
        said.has_model, !errors,
        "a model comes out exactly if there is no error:\n{}",
        said.text
    );
}

#[test]
fn random_accidents_never_panic() {
    let config = Config {
        cases: 300,
        failure_persistence: None,
        ..Config::default()
    };
    let seed = TestRng::from_seed(RngAlgorithm::ChaCha, &[7; 32]);
    let accidents = prop::collection::vec((0..6_usize, Accident::strategy()), 1..6);
    TestRunner::new_with_rng(config, seed)
        .run(&accidents, |accidents| {
            check_changed(|index, bytes| {
                for (_, accident) in accidents.iter().filter(|(file, _)| *file == index) {
                    accident.happen(bytes);
                }
            });
            Ok(())
        })
        .unwrap();
}

#[test]
fn files_cut_short_never_panic() {
    for (index, (_, bytes)) in demo_files().iter().enumerate() {
        // A prime step meets the middle of rows, words, numbers and of characters of several bytes.
        for end in (0..bytes.len()).step_by(331) {
            check_changed(|i, bytes| {
                if i == index {
                    bytes.truncate(end);
                }
            });
        }
    }
}
