//! Every table of a network drawn around its numbers, sixteen draws side by side.

use super::dirichlet::DirichletRow;
use super::source::Source;
use crate::circuit::{ParameterLanes, Specialised};
use crate::network::{Parameters, VariableId};

/// Draws of the columns that a question depends on, each from a Dirichlet around the network's numbers.
///
/// This is the doubt of a stress run for a network that comes without beliefs of its own: one equivalent sample size for
/// every column. Numbers that are 0 stay 0. Of a variable that is observed, only the entry of the observed state is drawn.
///
/// ```
/// use saggar::circuit::{LANES, LaneWorkspace, ParameterLanes, Specialised};
/// use saggar::network::Evidence;
/// use saggar::stress::DirichletTables;
/// # use saggar::{interchange, source::Sources};
/// # let path = std::path::Path::new("shared/networks/public/asia.bif");
/// # let network = interchange::read(path, &mut Sources::default()).unwrap().network;
///
/// let (asked, seen) = (network.find("lung").ok_or("no lung")?, network.find("xray").ok_or("no xray")?);
/// let mut evidence = Evidence::new();
/// evidence.observe(seen, 0);
/// let question = Specialised::compile(network.structure(), &evidence, asked)?;
/// let stated = network.parameters();
/// let tables = DirichletTables::new(&question, &stated, 20.0)?;
///
/// let mut lanes = ParameterLanes::of(&stated);
/// let mut workspace = LaneWorkspace::default();
/// let mut mean = 0.0;
/// for block in 0..1000 {
///     tables.draw(1, block, &mut lanes);
///     let answer = question.evaluate_in(&mut workspace, &lanes, &[]);
///     mean += answer.posterior[0].0.iter().sum::<f64>() / (1000.0 * LANES as f64);
/// }
/// // Stated, it is 0.489; the mean under doubt was worked out apart with numpy's gammas: 0.5217, from a million draws of
/// // standard deviation 0.245. Taken within five standard errors of these 16,000.
/// assert!((mean - 0.5217).abs() < 5.0 * 0.245 / 16_000_f64.sqrt(), "{mean}");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug)]
pub struct DirichletTables {
    rows: Vec<(VariableId, usize, DirichletRow)>,
}

/// Why tables cannot be drawn.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DrawError {
    /// The equivalent sample size is not a finite number above 0.
    #[error("an equivalent sample size is a finite number above 0, not {0}")]
    Seen(f64),
    /// A column that the question depends on holds something other than chances.
    #[error("the chances {0:?} are not numbers from 0 to 1 with a sum above 0")]
    Chances(Vec<f64>),
}

impl DirichletTables {
    /// Makes the columns ready: parameters `equivalent_sample_size × P(states | parent configuration)`.
    ///
    /// # Errors
    /// [`DrawError::Seen`] unless the equivalent sample size is finite and above 0; [`DrawError::Chances`] if an entry of a
    /// column is not in 0..=1 or all are 0.
    /// # Panics
    /// If `parameters` does not belong to the structure of the question.
    pub fn new(
        question: &Specialised,
        parameters: &Parameters,
        equivalent_sample_size: f64,
    ) -> Result<Self, DrawError> {
        if !(equivalent_sample_size.is_finite() && equivalent_sample_size > 0.0) {
            return Err(DrawError::Seen(equivalent_sample_size));
        }
        let mut rows = Vec::new();
        for (variable, configuration, state) in question.needed_columns() {
            let column = parameters.column(variable, configuration);
            let sum: f64 = column.iter().sum();
            if column.iter().any(|p| !(0.0..=1.0).contains(p)) || sum <= 0.0 {
                return Err(DrawError::Chances(column.to_vec()));
            }
            let needed = |cell| state.is_none_or(|state| state == cell);
            if let Some(row) = DirichletRow::new(column, equivalent_sample_size, needed) {
                rows.push((variable, configuration, row));
            }
        }
        Ok(Self { rows })
    }

    /// Draws every column anew in all lanes of `into`; whatever else it holds stays.
    ///
    /// Lane `i` holds draw `block × LANES + i` of the seed. The same seed and block give the same bytes, on any machine and
    /// in whatever order blocks are asked for.
    ///
    /// # Panics
    /// If `into` does not belong to the structure of the question.
    pub fn draw(&self, seed: u64, block: u64, into: &mut ParameterLanes) {
        pulp::Arch::new().dispatch(Draw {
            tables: self,
            source: Source::new(seed, block),
            into,
        });
    }

    /// How many gamma variates one draw takes.
    #[must_use]
    pub fn n_gammas(&self) -> usize {
        self.rows.iter().map(|(_, _, row)| row.n_gammas()).sum()
    }
}

/// One block, as a task for the widest vectors there are.
struct Draw<'a> {
    tables: &'a DirichletTables,
    source: Source,
    into: &'a mut ParameterLanes,
}

impl pulp::WithSimd for Draw<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: pulp::Simd>(mut self, _: S) {
        for (variable, configuration, row) in &self.tables.rows {
            row.draw(
                &mut self.source,
                self.into.column_mut(*variable, *configuration),
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use rayon::prelude::*;

    use super::*;
    use crate::circuit::LANES;
    use crate::interchange;
    use crate::network::{Evidence, Network};
    use crate::source::Sources;

    fn asia() -> Network {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("shared/networks/public/asia.bif");
        interchange::read(&path, &mut Sources::default())
            .unwrap()
            .network
    }

    fn question(network: &Network) -> Specialised {
        let mut evidence = Evidence::new();
        evidence.observe(network.find("xray").unwrap(), 0);
        Specialised::compile(
            network.structure(),
            &evidence,
            network.find("lung").unwrap(),
        )
        .unwrap()
    }

    #[test]
    fn the_same_bytes_on_any_number_of_threads() {
        let network = asia();
        let (question, stated) = (question(&network), network.parameters());
        let tables = DirichletTables::new(&question, &stated, 20.0).unwrap();
        let on = |threads: usize| -> Vec<Vec<u64>> {
            let pool = rayon::ThreadPoolBuilder::new()
                .num_threads(threads)
                .build()
                .unwrap();
            let block = |block: u64| {
                let mut lanes = ParameterLanes::of(&stated);
                let mut one = stated.clone();
                tables.draw(7, block, &mut lanes);
                let lane = |lane| {
                    lanes.copy_lane(lane, &mut one);
                    one.values()
                        .iter()
                        .map(|v| v.to_bits())
                        .collect::<Vec<u64>>()
                };
                (0..LANES).flat_map(lane).collect()
            };
            pool.install(|| (0..50_u64).into_par_iter().map(block).collect())
        };
        let one = on(1);
        assert_eq!(one, on(2));
        assert_eq!(one, on(4));
    }

    /// Outside the dispatch the loops are compiled for the oldest processors of the kind.
    #[test]
    fn the_same_bytes_whatever_the_vector_instructions() {
        let network = asia();
        let (question, stated) = (question(&network), network.parameters());
        let tables = DirichletTables::new(&question, &stated, 20.0).unwrap();
        let (mut wide, mut narrow) = (ParameterLanes::of(&stated), ParameterLanes::of(&stated));
        let (mut a, mut b) = (stated.clone(), stated.clone());
        for block in 0..50 {
            tables.draw(7, block, &mut wide);
            let mut source = Source::new(7, block);
            for (variable, configuration, row) in &tables.rows {
                row.draw(&mut source, narrow.column_mut(*variable, *configuration));
            }
            for lane in 0..LANES {
                wide.copy_lane(lane, &mut a);
                narrow.copy_lane(lane, &mut b);
                assert_eq!(a.values(), b.values());
            }
        }
    }

    #[test]
    fn refused() {
        let network = asia();
        let (question, mut stated) = (question(&network), network.parameters());
        for seen in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(matches!(
                DirichletTables::new(&question, &stated, seen),
                Err(DrawError::Seen(_))
            ));
        }
        let lung = network.find("lung").unwrap();
        stated.column_mut(lung, 0)[0] = f64::NAN;
        assert!(matches!(
            DirichletTables::new(&question, &stated, 20.0),
            Err(DrawError::Chances(_))
        ));
    }
}
