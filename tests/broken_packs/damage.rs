//! Whatever happens to the bytes of a pack, nothing panics: the demo pack, and those of the tests.

use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};

use std::path::PathBuf;

use crate::case::{check_folder, demo_pack, files};

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
    /// One word or number takes the place of another: the form stays whole and the sense does not.
    Exchange {
        at: usize,
        with: usize,
    },
    /// A stretch of the file is copied elsewhere, as when a line is pasted in the wrong place.
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
            1 => (at, 1..40_usize).prop_map(|(at, n)| Self::Delete { at, n }),
            1 => (at, prop::collection::vec(byte.clone(), 1..8))
                .prop_map(|(at, bytes)| Self::Insert { at, bytes }),
            1 => (at, byte).prop_map(|(at, byte)| Self::Overwrite { at, byte }),
            1 => (at, at).prop_map(|(at, with)| Self::Swap { at, with }),
            3 => (at, at).prop_map(|(at, with)| Self::Exchange { at, with }),
            1 => (at, 1..200_usize, at).prop_map(|(from, n, at)| Self::Paste { from, n, at }),
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
            Self::Exchange { at, with } => {
                let word = text[word_at(text, with % length)].to_vec();
                text.splice(word_at(text, at % length), word);
            }
            Self::Paste { from, n, at } => {
                let from = from % length;
                let stretch = text[from..length.min(from + n)].to_vec();
                let at = at % length;
                text.splice(at..at, stretch);
            }
        }
    }
}

/// The letters and digits around a place.
fn word_at(text: &[u8], at: usize) -> std::ops::Range<usize> {
    let outside = |b: &u8| !b.is_ascii_alphanumeric();
    let start = text[..at].iter().rposition(outside).map_or(0, |p| p + 1);
    let end = text[at..]
        .iter()
        .position(outside)
        .map_or(text.len(), |p| at + p);
    start..end.max(start)
}

fn packs() -> [PathBuf; 4] {
    let tests = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests");
    [
        demo_pack(),
        tests.join("packs/stoneware_plates"),
        tests.join("packs/moor_ware"),
        tests.join("packs/fell_ware"),
    ]
}

/// Checks a pack with some of its files changed.
fn check_changed(files: &[(String, Vec<u8>)], change: impl Fn(usize, &mut Vec<u8>)) {
    let temporary = tempfile::tempdir().unwrap();
    for (index, (name, bytes)) in files.iter().enumerate() {
        let mut bytes = bytes.clone();
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
    let accidents = prop::collection::vec((any::<usize>(), Accident::strategy()), 1..6);
    for (pack, seed) in packs().iter().zip(1_u8..) {
        let files = files(pack);
        let seed = TestRng::from_seed(RngAlgorithm::ChaCha, &[seed; 32]);
        let tested = TestRunner::new_with_rng(config.clone(), seed).run(&accidents, |accidents| {
            check_changed(&files, |index, bytes| {
                let here = |file: &usize| file % files.len() == index;
                for (_, accident) in accidents.iter().filter(|(file, _)| here(file)) {
                    accident.happen(bytes);
                }
            });
            Ok(())
        });
        tested.unwrap();
    }
}

#[test]
fn files_cut_short_never_panic() {
    for pack in packs() {
        let files = files(&pack);
        for (index, (_, bytes)) in files.iter().enumerate() {
            // A prime step meets the middle of rows, words, numbers and of characters of several bytes.
            for end in (0..bytes.len()).step_by(331) {
                check_changed(&files, |i, bytes| {
                    if i == index {
                        bytes.truncate(end);
                    }
                });
            }
        }
    }
}
