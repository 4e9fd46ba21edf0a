//! What a script costs beside the library: many pieces described and judged in Rhai, and the same by the library's own call.
//! Figures: benches/README.md.

use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use saggar::check;
use saggar::model::CompiledModel;
use saggar::piece::{Look, Piece, find_clue, find_state};
use saggar::script::{self, Settings};
use saggar::source::Sources;

/// Pieces of one run.
const PIECES: usize = 10_000;

const SEEN: [(&str, &str); 6] = [
    ("size", "V"),
    ("search", "full"),
    ("print", "clear"),
    ("wheel", "10"),
    ("foot", "recessed"),
    ("tint", "blue"),
];

fn pack() -> CompiledModel {
    let (mut sources, mut found) = (Sources::default(), Vec::new());
    let folder = Path::new("priors/tidewheel");
    check::load(folder, &mut sources, &mut found)
        .expect("the folder is there")
        .expect("the pack is clean")
        .compile()
        .expect("the pack is small")
}

fn describe(compiled: &CompiledModel, title: String) -> Piece {
    let model = &compiled.model;
    SEEN.into_iter()
        .fold(Piece::new(title), |piece, (clue, state)| {
            let index = find_clue(model, clue).expect("the pack has the clue");
            let place = find_state(&model.catalogue.clues[index], state).expect("and the state");
            piece
                .note(index, Look::Seen(place), state.to_owned(), model)
                .expect("noted once")
        })
}

/// A script that describes the pieces and does something with them.
fn written(folder: &Path, name: &str, end: &str) -> PathBuf {
    let notes: String = SEEN
        .map(|(clue, state)| format!(".saw(\"{clue}\", \"{state}\")"))
        .concat();
    let text = format!(
        "let pack = open_pack(\"tidewheel\");\nlet jugs = [];\nfor i in 0..{PIECES} {{ jugs.push(pack.piece(\"jug \" + i){notes}); }}\n{end}\n"
    );
    let path = folder.join(name);
    std::fs::write(&path, text).expect("room on the disk");
    path
}

fn run(path: &Path) -> usize {
    let shown = Arc::new(AtomicUsize::new(0));
    let count = Arc::clone(&shown);
    let settings = Settings::new(PathBuf::from("priors"));
    let finished = script::run(path, settings, move |_| {
        count.fetch_add(1, Ordering::Relaxed);
    });
    let failure = finished.expect("the script is there").failure;
    assert!(failure.is_none(), "{failure:?}");
    shown.load(Ordering::Relaxed)
}

fn scripts(c: &mut Criterion) {
    let compiled = pack();
    let folder = tempfile::tempdir().expect("a folder");
    let mut group = c.benchmark_group("10,000 pieces, all threads");
    group.throughput(Throughput::Elements(PIECES as u64));
    group.sample_size(10);
    group.bench_function("described and judged by the library", |b| {
        b.iter(|| {
            let pieces: Vec<Piece> = (0..PIECES)
                .map(|i| describe(&compiled, format!("jug {i}")))
                .collect();
            black_box(compiled.verdicts(&pieces))
        });
    });
    let judged = written(
        folder.path(),
        "judged.rhai",
        "let verdicts = pack.judge_all(jugs); print(verdicts[0].leader);",
    );
    assert_eq!(run(&judged), 1);
    group.bench_function("described and judged by a script", |b| {
        b.iter(|| black_box(run(&judged)));
    });
    let described = written(folder.path(), "described.rhai", "print(jugs.len());");
    group.bench_function("described alone by a script", |b| {
        b.iter(|| black_box(run(&described)));
    });
    group.finish();
}

criterion_group!(benches, scripts);
criterion_main!(benches);
