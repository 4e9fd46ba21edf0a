//! The variables that, once known, leave nothing for one look to say about the reading of another.
//!
//! Given them (and what is found already) looks are independent, so that any set and order of looks is reckoned from one
//! table of chances for each look. Hidden variables that several looks or findings depend on separate them: the engraving
//! behind the codings of a print, the period behind wear and colour.

use crate::model::ClueTarget;
use crate::network::{Evidence, EvidenceItem, ItemContent, Structure, VariableId};

/// Variables that separate the looks from each other given the evidence, the question first among equals, each after its
/// parents. The question is always one of them; observed variables never are.
///
/// # Source
/// Pearl 1988, *Probabilistic Reasoning in Intelligent Systems*, sec. 3.3 (d-separation); for the algorithm Koller & Friedman
/// 2009, *Probabilistic Graphical Models*, algorithm 3.1 (from memory).
#[must_use]
pub fn separators(
    structure: &Structure,
    evidence: &Evidence,
    question: VariableId,
    looks: &[ClueTarget],
) -> Vec<VariableId> {
    let graph = Graph::new(structure, evidence);
    let looks: Vec<usize> = looks.iter().map(|&look| graph.place(look)).collect();
    // A variable above one look or finding alone cannot carry anything from one look to another.
    let mut ends: Vec<usize> = looks.clone();
    ends.push(question.index());
    ends.extend((0..graph.parents.len()).filter(|&node| graph.observed[node]));
    ends.sort_unstable();
    ends.dedup();
    let mut n_below = vec![0_usize; graph.parents.len()];
    for &end in &ends {
        for (node, is_above) in graph.above(&[end]).into_iter().enumerate() {
            n_below[node] += usize::from(is_above);
        }
    }
    let mut known = graph.observed.clone();
    known[question.index()] = true;
    let order = structure.topological_order();
    for id in order {
        known[id.index()] |= n_below[id.index()] > 1;
    }
    // Of those, the ones that separate nothing are left out, the last along the arrows first.
    for id in order.iter().rev() {
        let node = id.index();
        if !known[node] || graph.observed[node] || *id == question {
            continue;
        }
        known[node] = false;
        known[node] = !graph.are_apart(&looks, &known);
    }
    let is_one = |id: &VariableId| known[id.index()] && !graph.observed[id.index()];
    order.iter().copied().filter(is_one).collect()
}

/// Variables, measures, and a child below each variable with likelihood evidence: what was seen of it.
struct Graph {
    parents: Vec<Vec<usize>>,
    children: Vec<Vec<usize>>,
    observed: Vec<bool>,
    n_variables: usize,
}

impl Graph {
    fn new(structure: &Structure, evidence: &Evidence) -> Self {
        let above = |ids: &[VariableId]| ids.iter().map(|id| id.index()).collect::<Vec<_>>();
        let variables = structure
            .variable_ids()
            .map(|id| above(structure.parents(id)));
        let measures = structure.measures().iter().map(|m| above(&m.parents));
        let mut parents: Vec<Vec<usize>> = variables.chain(measures).collect();
        let mut observed = vec![false; parents.len()];
        let n_variables = structure.variables().len();
        for (item, content) in evidence.items() {
            match (item, content) {
                (EvidenceItem::Variable(id), ItemContent::State(_)) => observed[id.index()] = true,
                (EvidenceItem::Variable(id), _) => {
                    parents.push(vec![id.index()]);
                    observed.push(true);
                }
                (EvidenceItem::Measure(id), _) => observed[n_variables + id.index()] = true,
            }
        }
        let mut children = vec![Vec::new(); parents.len()];
        for (node, parents) in parents.iter().enumerate() {
            for &parent in parents {
                children[parent].push(node);
            }
        }
        Self {
            parents,
            children,
            observed,
            n_variables,
        }
    }

    fn place(&self, look: ClueTarget) -> usize {
        match look {
            ClueTarget::Variable(id) => id.index(),
            ClueTarget::Measure(id) => self.n_variables + id.index(),
        }
    }

    /// The nodes given and all above them.
    fn above(&self, nodes: &[usize]) -> Vec<bool> {
        let mut is_above = vec![false; self.parents.len()];
        let mut open = nodes.to_vec();
        while let Some(node) = open.pop() {
            if !std::mem::replace(&mut is_above[node], true) {
                open.extend(&self.parents[node]);
            }
        }
        is_above
    }

    /// Whether no look tells of another once what is known is known.
    fn are_apart(&self, looks: &[usize], known: &[bool]) -> bool {
        let nodes: Vec<usize> = (0..known.len()).filter(|&node| known[node]).collect();
        let above_known = self.above(&nodes);
        looks.iter().all(|&look| {
            let reached = self.reached(look, known, &above_known);
            looks.iter().all(|&other| other == look || !reached[other])
        })
    }

    /// The nodes that `from` is not separated from.
    fn reached(&self, from: usize, known: &[bool], above_known: &[bool]) -> Vec<bool> {
        let n = self.parents.len();
        let mut reached = vec![false; n];
        if known[from] {
            return reached;
        }
        // Each node may be come to from below (0) and from above (1).
        let mut visited = vec![[false; 2]; n];
        let mut open = vec![(from, 0)];
        while let Some((node, way)) = open.pop() {
            if std::mem::replace(&mut visited[node][way], true) {
                continue;
            }
            reached[node] |= !known[node];
            if !known[node] {
                open.extend(self.children[node].iter().map(|&child| (child, 1)));
            }
            let goes_up = if way == 0 {
                !known[node]
            } else {
                above_known[node]
            };
            if goes_up {
                open.extend(self.parents[node].iter().map(|&parent| (parent, 0)));
            }
        }
        reached
    }
}
