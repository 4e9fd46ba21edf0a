//! What it takes to defend a verdict: exact shares of every finding, stress runs, and which beliefs explain them. Figures:
//! benches/README.md.

use std::fs;
use std::hint::black_box;
use std::path::Path;

use criterion::{Criterion, criterion_group, criterion_main};
use saggar::check;
use saggar::model::CompiledModel;
use saggar::piece::{Look, Piece, find_clue, find_state, found};
use saggar::source::Sources;
use saggar::stress::StressPlan;

fn load(folder: &Path) -> CompiledModel {
    let (mut sources, mut found) = (Sources::default(), Vec::new());
    check::load(folder, &mut sources, &mut found)
        .expect("the folder is there")
        .expect("the pack is clean")
        .compile()
        .expect("the pack is small")
}

/// The demonstration pack with the rules of law and record.
fn with_rules(folder: &Path) -> CompiledModel {
    for (from, to) in [("priors/tidewheel", "tidewheel"), ("priors/rules", "rules")] {
        fs::create_dir(folder.join(to)).expect("a new folder");
        for entry in fs::read_dir(from).expect("the pack") {
            let path = entry.expect("a file").path();
            let mut text = fs::read_to_string(&path).expect("text");
            let name = path.file_name().expect("a file name");
            if name == "pack.toml" {
                text = text.replacen("\n[pack]\n", "\n[pack]\nrules = [\"termini\"]\n", 1);
            }
            fs::write(folder.join(to).join(name), text).expect("room on the disk");
        }
    }
    load(&folder.join("tidewheel"))
}

/// A jug with every clue of the demonstration pack noted: sixteen that make a claim.
fn jug(compiled: &CompiledModel) -> Piece {
    let seen = [
        ("size", "V"),
        ("search", "full"),
        ("mark", "bell or beehive"),
        ("print", "blurred"),
        ("wheel", "10"),
        ("sluice", "cross"),
        ("weathercock", "right"),
        ("dovecote", "round"),
        ("wall", "hatched"),
        ("border", "reed"),
        ("technique", "line+stipple"),
        ("weight", "1.10–1.20"),
        ("tint", "faint blue"),
        ("inclusions", "many"),
        ("foot", "recessed"),
        ("join", "gap"),
        ("wear", "tactile heavy"),
        ("colour", "mid"),
    ];
    let model = &compiled.model;
    seen.into_iter()
        .fold(Piece::new("bench"), |piece, (clue, state)| {
            let index = find_clue(model, clue).expect("the pack has the clue");
            let place = find_state(&model.catalogue.clues[index], state).expect("and the state");
            piece
                .note(index, Look::Seen(place), state.to_owned(), model)
                .expect("noted once")
        })
}

fn defence(c: &mut Criterion) {
    let one_thread = rayon::ThreadPoolBuilder::new()
        .num_threads(1)
        .build()
        .expect("a pool of one");
    let compiled = load(Path::new("priors/tidewheel"));
    let sixteen = jug(&compiled);
    let folder = tempfile::tempdir().expect("a folder");
    let ruled = with_rules(folder.path());
    let rules = ["whiteware", "ug_transfer", "stipple", "printed_mark"];
    let twenty = rules.into_iter().fold(jug(&ruled), |piece, rule| {
        let noted = found(&ruled.model, rule).expect("the rule is known");
        piece
            .note(noted.0, Look::Found, noted.1, &ruled.model)
            .expect("noted once")
    });
    for (compiled, piece, n) in [(&compiled, &sixteen, 16), (&ruled, &twenty, 20)] {
        // The answer is checked before it is timed.
        let audit = compiled.audit(piece).expect("the jug is possible");
        assert_eq!(audit.findings.len(), n);
        let shares = audit.findings.iter().map(|f| {
            let shared = f.shared.expect("finite");
            assert_eq!(shared.standard_error, None);
            shared.decibans
        });
        assert!((shares.sum::<f64>() - audit.total_decibans).abs() < 1e-8);
        c.bench_function(&format!("one audit, {n} findings, one thread"), |b| {
            b.iter(|| one_thread.install(|| black_box(compiled.audit(piece))));
        });
    }
    c.bench_function("100,000 stress draws with wording, one thread", |b| {
        let plan = StressPlan::new(100_000, 1);
        b.iter(|| one_thread.install(|| black_box(compiled.stress(&sixteen, &plan))));
    });
    c.bench_function("1,000 draws explained, one thread", |b| {
        let plan = StressPlan::new(1_000, 1);
        b.iter(|| {
            one_thread.install(|| black_box(compiled.stress_explained(&sixteen, None, &plan)))
        });
    });
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(10);
    targets = defence
}
criterion_main!(benches);
