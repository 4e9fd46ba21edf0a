//! Sets of variables that occur in one table.

/// Sets of variables, one after the other.
#[derive(Clone, Debug, Default)]
pub(in super::super) struct Cliques {
    members: Vec<usize>,
    ends: Vec<usize>,
}

impl Cliques {
    pub(in super::super) fn push(&mut self, clique: impl IntoIterator<Item = usize>) {
        self.members.extend(clique);
        self.ends.push(self.members.len());
    }

    pub(in super::super) fn iter(&self) -> impl Iterator<Item = &[usize]> {
        let starts = std::iter::once(&0).chain(&self.ends);
        starts
            .zip(&self.ends)
            .map(|(&start, &end)| &self.members[start..end])
    }

    /// For each of `n` variables, whether it is in some clique.
    pub(in super::super) fn members(&self, n: usize) -> Vec<bool> {
        let mut is_member = vec![false; n];
        for &v in &self.members {
            is_member[v] = true;
        }
        is_member
    }
}
