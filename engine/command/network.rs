//! `saggar network`: posteriors of a network in an interchange format, one JSON object a line for each evidence set.

use std::path::{Path, PathBuf};

use clap::Args;
use rayon::prelude::*;
use saggar::circuit::{CompileError, Propagator, QueryError, WORK_LIMIT};
use saggar::interchange::{
    self, Answer, PublicNetwork, ReadError, answer, parse_given, split_given,
};
use saggar::network::Evidence;
use saggar::source::Sources;
use serde::Serialize;

use super::{BAD_FILE, FAILED, USAGE, complain, print_diagnostics, say, start_threads};

/// The largest file of evidence sets, in bytes.
const LARGEST_EVIDENCE_FILE: u64 = 256 * 1024 * 1024;

/// Evidence sets answered before their answers are printed: enough for every thread, few enough for memory.
const SETS_AT_A_TIME: usize = 256;

#[derive(Args)]
pub(super) struct Arguments {
    /// The network, in BIF or XMLBIF 0.3.
    file: PathBuf,
    /// What was found of a variable; may be repeated. With --given-file it holds for every set of the file.
    #[arg(long, value_name = "NAME=STATE")]
    given: Vec<String>,
    /// Evidence sets as JSON: an object, or a list of objects, of names and states, or of names and lists of likelihoods.
    #[arg(long, value_name = "JSON FILE")]
    given_file: Option<PathBuf>,
    /// Print what exact inference costs instead of posteriors: width, largest table, cells to run through.
    #[arg(long)]
    cost: bool,
    /// Write the network in the format of this file's ending: .bif, .xmlbif, .bifxml or .xml. Posteriors are then
    /// printed only if evidence is given.
    #[arg(long, value_name = "FILE")]
    write: Option<PathBuf>,
    /// Print JSON lines; there is no other form.
    #[arg(long)]
    json: bool,
    /// Threads; the results do not depend on it.
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..=1024))]
    threads: Option<u16>,
}

/// Runs the command and returns the exit code.
pub(super) fn run(arguments: &Arguments) -> u8 {
    if !start_threads(arguments.threads) {
        return FAILED;
    }
    let mut sources = Sources::default();
    let public = match interchange::read(&arguments.file, &mut sources) {
        Ok(public) => public,
        Err(ReadError::Defects(found)) => {
            print_diagnostics(&found, &sources);
            return BAD_FILE;
        }
        Err(error) => {
            complain(&error.to_string());
            return BAD_FILE;
        }
    };
    print_diagnostics(&public.warnings, &sources);
    let sets = match evidence_sets(arguments, &public) {
        Ok(sets) => sets,
        Err(code) => return code,
    };
    if let Some(path) = &arguments.write
        && let Err(error) = interchange::write(&public, path)
    {
        complain(&error.to_string());
        return BAD_FILE;
    }
    let nothing_given = arguments.given.is_empty() && arguments.given_file.is_none();
    if arguments.write.is_some() && nothing_given && !arguments.cost {
        return 0;
    }
    if !can_be_ordered(&public) {
        return FAILED;
    }
    if arguments.cost {
        return print_cost(&public);
    }
    answer_all(&public, &sets)
}

/// All evidence, checked before any of it is answered.
fn evidence_sets(arguments: &Arguments, public: &PublicNetwork) -> Result<Vec<Evidence>, u8> {
    let mut common = Evidence::new();
    for text in &arguments.given {
        match split_given(text, &public.network) {
            Ok((id, _)) if common.finding(id).is_some() => {
                complain(&format!(
                    "`{}` is given twice",
                    public.network.variable(id).name
                ));
                return Err(USAGE);
            }
            Ok((id, state_idx)) => _ = common.observe(id, state_idx),
            Err(error) => {
                complain(&error.to_string());
                return Err(USAGE);
            }
        }
    }
    match &arguments.given_file {
        Some(path) => sets_of_file(path, &common, public).map_err(|message| {
            complain(&message);
            BAD_FILE
        }),
        None => Ok(vec![common]),
    }
}

fn sets_of_file(
    path: &Path,
    common: &Evidence,
    public: &PublicNetwork,
) -> Result<Vec<Evidence>, String> {
    let mut sources = Sources::default();
    let source = sources
        .read_within(path, LARGEST_EVIDENCE_FILE)
        .map_err(|error| error.to_string())?;
    let sets = parse_given(&sources.file(source).text)
        .map_err(|error| format!("`{}`: {error}", path.display()))?;
    let n_sets = sets.len();
    sets.iter()
        .enumerate()
        .map(|(index, set)| {
            let mut evidence = common.clone();
            set.enter(&mut evidence, &public.network).map_err(|error| {
                let which = match n_sets {
                    1 => String::new(),
                    _ => format!("evidence set {}: ", index + 1),
                };
                format!("`{}`: {which}{error}", path.display())
            })?;
            Ok(evidence)
        })
        .collect()
}

/// Whether the search for an elimination order fits in memory: it takes a bit for each pair of variables, twice.
fn can_be_ordered(public: &PublicNetwork) -> bool {
    const MOST_VARIABLES: usize = 1 << 16;
    let n = public.network.variables().len();
    if n > MOST_VARIABLES {
        complain(&format!(
            "the network has {n} variables; for exact inference it may have {MOST_VARIABLES}"
        ));
    }
    n <= MOST_VARIABLES
}

fn answer_all(public: &PublicNetwork, sets: &[Evidence]) -> u8 {
    let network = &public.network;
    let propagator = Propagator::new(network.structure());
    let parameters = network.parameters();
    let mut code = 0;
    for some in sets.chunks(SETS_AT_A_TIME) {
        let lines: Vec<(bool, Result<String, serde_json::Error>)> = some
            .par_iter()
            .map_init(
                || propagator.workspace(),
                |workspace, evidence| {
                    let answer = answer(&propagator, workspace, &parameters, evidence);
                    let failed = matches!(answer, Answer::Failed { .. });
                    (failed, answer.to_json(network))
                },
            )
            .collect();
        for (failed, line) in lines {
            match line {
                Ok(line) => say(&format!("{line}\n")),
                Err(error) => {
                    complain(&format!("the answer cannot be written as JSON: {error}"));
                    return FAILED;
                }
            }
            if failed {
                code = FAILED;
            }
        }
    }
    code
}

/// What `--cost` prints, as one JSON object.
#[derive(Serialize)]
struct CostLine {
    variables: usize,
    arcs: usize,
    /// Cells of all tables of the file.
    table_cells: usize,
    /// An upper bound of the treewidth.
    #[serde(skip_serializing_if = "Option::is_none")]
    induced_width: Option<usize>,
    /// Cells of the largest cluster.
    #[serde(skip_serializing_if = "Option::is_none")]
    largest_table: Option<usize>,
    /// Cells to run through for P(evidence); a lower bound if the count was not finished.
    evidence_cells: u128,
    /// The same for all posteriors: the downward pass takes about twice the upward one.
    posterior_cells: u128,
    /// Cells allowed for P(evidence); whether the network fits also depends on what must be stored.
    cell_limit: usize,
    fits: bool,
}

fn print_cost(public: &PublicNetwork) -> u8 {
    let network = &public.network;
    let ids = network.variable_ids();
    // Counted far beyond what would be run, so that one sees by how much a network is too large.
    let nothing_observed = Evidence::new();
    // Counted far beyond what would be run, so that one sees by how much a network is too large.
    let propagator = Propagator::within(network.structure(), usize::MAX);
    let (cost, evidence_cells) = match propagator.cost(&nothing_observed) {
        Ok(cost) => (Some(cost), cost.total_cells as u128),
        Err(QueryError::TooLarge(CompileError::TooLarge {
            predicted_cells, ..
        })) => (None, predicted_cells),
        Err(error) => {
            complain(&error.to_string());
            return FAILED;
        }
    };
    let fits = Propagator::new(network.structure())
        .cost(&nothing_observed)
        .is_ok();
    let line = CostLine {
        variables: network.variables().len(),
        arcs: ids.clone().map(|v| network.parents(v).len()).sum(),
        table_cells: ids.map(|v| network.cpt(v).table.len()).sum(),
        induced_width: cost.map(|c| c.induced_width),
        largest_table: cost.map(|c| c.largest_table),
        evidence_cells,
        posterior_cells: evidence_cells.saturating_mul(3),
        cell_limit: WORK_LIMIT,
        fits,
    };
    match serde_json::to_string(&line) {
        Ok(line) => say(&format!("{line}\n")),
        Err(error) => {
            complain(&format!("the cost cannot be written as JSON: {error}"));
            return FAILED;
        }
    }
    u8::from(!fits) * FAILED
}
