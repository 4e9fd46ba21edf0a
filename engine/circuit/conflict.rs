//! Which pieces of evidence cannot stand together.

use crate::network::{Evidence, EvidenceItem, Parameters};

use super::Circuit;
use super::evaluate::Workspace;

impl Circuit {
    /// A smallest impossible part of impossible evidence: no item can be left out of it.
    ///
    /// Each item is dropped in turn and stays out if the rest is still impossible (deletion filter). That
    /// takes one upward pass an item, and what is left is minimal since more evidence never makes the
    /// impossible possible.
    ///
    /// # Source
    /// Chinneck and Dravnieks, "Locating minimal infeasible constraint sets in linear programs", ORSA
    /// Journal on Computing 3(2), 1991.
    pub(super) fn conflict(
        &self,
        workspace: &mut Workspace,
        parameters: &Parameters,
        evidence: &Evidence,
    ) -> Vec<EvidenceItem> {
        let mut kept = evidence.clone();
        for (item, content) in evidence.items() {
            kept.remove(item);
            if !self.upward(workspace, parameters, &kept).is_zero() {
                kept.enter(item, content);
            }
        }
        kept.items().map(|(item, _)| item).collect()
    }
}
