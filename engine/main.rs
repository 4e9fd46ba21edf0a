//! x
fn main() {
    let mut sources = saggar::source::Sources::default();
    let mut out = Vec::new();
    let dir = std::env::args().nth(1).unwrap();
    let pack = saggar::pack::read(std::path::Path::new(&dir), &mut sources, &mut out).unwrap();
    let model = pack.and_then(|p| saggar::check::check(&p, &sources, &mut out));
    for d in &out {
        eprintln!(
            "{}\n",
            saggar::diagnostic::render::render(d, &sources, false)
        );
    }
    if let Some(m) = model {
        let c = m.compile().unwrap();
        println!("{:?} beliefs {}", c.circuit.cost(), c.model.beliefs.len());
    }
}
